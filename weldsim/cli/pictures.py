"""Where pictures go, and writing them; shared by the commands."""

from pathlib import Path
from typing import Any

from weldsim.cli.options import CommandLineError, Request
from weldsim.errors import RunFileError, WeldsimError, written_out


def picture_place(request: Request, module: str, *, stem: str) -> Path | None:
    """Where the picture goes: as asked, or into the current folder unless only JSON is wanted."""
    asked = in_a_folder(request.get("figure"), "--figure")
    if asked:
        _check_format(asked)
    elif not request.get("json"):
        asked = Path(f"{stem}-{module}.png")
    refuse_where_nothing_can_be(asked, "--figure")
    return asked


def _check_format(place: Path) -> None:
    from weldsim.figures.formats import picture_format

    try:
        picture_format(place)
    except WeldsimError as trouble:
        raise CommandLineError(f"{trouble.place}: {trouble.fact}", place="--figure", advice=trouble.advice) from None


def in_a_folder(name: str | None, flag: str) -> Path | None:
    """A file name whose folder exists."""
    if name is None:
        return None
    if not name.strip():
        raise CommandLineError("the name is empty", place=flag, advice="give a file name")
    path = Path(name)
    if not path.parent.is_dir():
        raise CommandLineError(f"there is no folder {path.parent}", place=flag, advice="make it first or name another")
    return path


def refuse_where_nothing_can_be(place: Path | None, flag: str) -> None:
    """Tell before the work, not after it, that a file cannot be written."""
    if place is None:
        return
    from weldsim.runs.replacing import refuse_unwritable

    try:
        refuse_unwritable(place)
    except RunFileError as trouble:
        raise CommandLineError(f"{trouble.place}: {trouble.fact}", place=flag, advice=trouble.advice) from None


def draw_to(figure: Any, place: Path, request: Request) -> None:
    """Write the picture and say where it is."""
    from weldsim.figures.style import save

    save(figure, place)
    tell_place(place, request)


def tell_place(place: Path, request: Request) -> None:
    """Say where the picture is, unless only JSON is wanted."""
    if not request.get("json"):
        print(f"\nPicture: {written_out(str(place))}")
