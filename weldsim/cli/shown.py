"""What a command prints and draws, from Python: ``weldsim.page(answer)`` and ``weldsim.draw(answer)``."""

import importlib
from typing import Any

from weldsim.cli.commands import COMMANDS
from weldsim.errors import QuestionError
from weldsim.runs.run import Run
from weldsim.studies.answer import Answer

_PAGES = {"sweep": "weldsim.report.sweep", "prove": "weldsim.report.proofs"}


def draw(shown: Answer | Run) -> Any:
    """The picture of an answer or of a run, as its command draws it.

    Parameters
    ----------
    shown : Answer or Run
        What a question has answered, or recorded waveforms.

    Returns
    -------
    matplotlib.figure.Figure
        ``savefig("place.png")`` keeps it; a notebook shows it after ``%matplotlib inline``.

    Raises
    ------
    QuestionError : neither an answer nor a run.
    """
    if isinstance(shown, Run):
        module = "show"
    else:
        module = next((one.module for one in COMMANDS if one.name == _study(shown)), "") or shown.study
    return importlib.import_module(f"weldsim.figures.{module}").draw(shown)


def page(shown: Answer | Run) -> str:
    """The text of an answer or of a run, as its command prints it.

    Parameters
    ----------
    shown : Answer or Run
        What a question has answered, or recorded waveforms.

    Returns
    -------
    str
        Verdicts, figures with their units, cases, what was assumed and what to take care of.

    Raises
    ------
    QuestionError : neither an answer nor a run.
    """
    if isinstance(shown, Run):
        from weldsim.report.wording import run_page

        return run_page(shown)
    text: str = importlib.import_module(_PAGES.get(_study(shown), "weldsim.report.wording")).page(shown)
    return text


def _study(shown: Answer) -> str:
    if isinstance(shown, Answer):
        return shown.study
    raise QuestionError(
        f"a {type(shown).__name__} is neither an answer nor a run",
        place="what is to be shown",
        advice="ask a question first, such as weldsim.preview(scenario)",
    )
