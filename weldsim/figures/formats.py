"""Which picture formats there are; apart from the drawing, so that a wrong name is refused before anything is run."""

from pathlib import Path

from weldsim.errors import WeldsimError

FORMATS = ("png", "svg", "pdf")


def picture_format(path: Path | str) -> str:
    """The format that a picture's file name asks for.

    >>> picture_format("bench.SVG")
    'svg'
    """
    suffix = Path(path).suffix.lower().removeprefix(".")
    if suffix not in FORMATS:
        raise WeldsimError(
            "the ending says which kind of picture is wanted",
            place=str(path),
            advice="end the name in .png, .svg or .pdf",
        )
    return suffix
