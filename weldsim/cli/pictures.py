"""Where pictures go, and writing them; shared by the commands."""

from pathlib import Path
from typing import Any

from weldsim.cli.options import CommandLineError, Request
from weldsim.errors import written_out


def picture_place(request: Request, module: str, *, stem: str) -> Path | None:
    """Where the picture goes: as asked, or into the current folder unless only JSON is wanted."""
    asked = in_a_folder(request.get("figure"), "--figure")
    if asked:
        from weldsim.figures.formats import picture_format

        picture_format(asked)
        return asked
    return None if request.get("json") else Path(f"{stem}-{module}.png")


def in_a_folder(name: str | None, flag: str) -> Path | None:
    """A file name whose folder exists."""
    if name is None:
        return None
    path = Path(name)
    if not path.parent.is_dir():
        raise CommandLineError(f"there is no folder {path.parent}", place=flag, advice="make it first or name another")
    return path


def draw_to(figure: Any, place: Path, request: Request) -> None:
    """Write the picture and say where it is."""
    from weldsim.figures.style import save

    save(figure, place)
    tell_place(place, request)


def tell_place(place: Path, request: Request) -> None:
    """Say where the picture is, unless only JSON is wanted."""
    if not request.get("json"):
        print(f"\nPicture: {written_out(str(place))}")
