"""``weldsim prove``: the one study that needs no scenario."""

import json

from weldsim.cli.options import Request
from weldsim.cli.pictures import draw_to, picture_place
from weldsim.cli.progress import announce_compiling, meter


def prove(request: Request) -> None:
    """Run all proofs: their table, their picture; a value beyond its tolerance is a finding, no error."""
    picture = picture_place(request, "prove", stem="weldsim")
    from weldsim.report.proofs import page
    from weldsim.runs.crew import cores
    from weldsim.studies.prove import ask

    announce_compiling()
    words = request.get("subsystems", ())
    answer = ask(subsystems=words, workers=cores(), progress=meter())
    if not request.get("json"):
        print(page(answer, every=bool(words)), flush=True)
    if picture:
        from weldsim.figures.prove import draw

        draw_to(draw(answer), picture, request)
    if request.get("json"):
        print(json.dumps(answer.as_json()))
