"""What a drawn figure looks like to a reader: which texts lie where, and whether any two lie on each other."""

from itertools import combinations
from unittest import mock

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

LEAST_OVERLAP = 2.0  # pixels each way; letters have air around them


def texts_of(figure: Figure) -> list[tuple[str, Bbox]]:
    """Every text that is really drawn, with the box it takes [pixels]; labels of ticks outside the axis are not."""
    renderer = FigureCanvasAgg(figure).get_renderer()
    drawn: list[Text] = []
    original = Text.draw

    def noting(self, *arguments, **options):
        drawn.append(self)
        return original(self, *arguments, **options)

    with mock.patch.object(Text, "draw", noting):
        figure.draw(renderer)
    return [
        (text.get_text(), text.get_window_extent(renderer))
        for text in drawn
        if text.get_visible() and text.get_text().strip()
    ]


def overlapping(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of texts that lie on each other."""
    found = []
    for (first, one), (second, other) in combinations(texts_of(figure), 2):
        width = min(one.x1, other.x1) - max(one.x0, other.x0)
        height = min(one.y1, other.y1) - max(one.y0, other.y0)
        if width > LEAST_OVERLAP and height > LEAST_OVERLAP:
            found.append((first, second))
    return found


def cut_off(figure: Figure) -> list[str]:
    """Texts that leave the picture."""
    width, height = figure.bbox.width, figure.bbox.height
    return [
        text
        for text, box in texts_of(figure)
        if box.x0 < -0.5 or box.y0 < -0.5 or box.x1 > width + 0.5 or box.y1 > height + 0.5
    ]
