"""The look of the figures: type, colours, lines and markers, and how a figure becomes SVG."""

from __future__ import annotations

import functools
import importlib.resources
import io
import logging
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import matplotlib as mpl
from matplotlib import font_manager
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from trivet.report.frame.compact_svg import compact_svg
from trivet.report.frame.data import Row

FULL_WIDTH_IN = 6.69
"""Width of the type area, 170 mm [in]."""
TALLEST_IN = 8.6
"""Tallest figure that leaves room for a caption on its page [in]."""

INK = "#22282f"
SOFT = "#6b737c"
FAINT = "#c9cdd1"
WARNING = "#9c3b24"
GROUP_COLOURS = ("#1d3b58", "#c4872f", "#3f8f86", "#8a2f4b", "#7d86b8", "#7a6a4f")
GROUP_LINES: tuple[Any, ...] = (
    "solid",
    (0, (5, 1.6)),
    (0, (1.2, 1.2)),
    (0, (6, 1.5, 1.2, 1.5)),
    (0, (2.6, 1.2)),
    (0, (8, 2.5)),
)
GROUP_MARKERS = ("o", "s", "^", "D", "v", "P")
BATCH_LINES: tuple[Any, ...] = (
    "solid",
    (0, (4, 1.4)),
    (0, (1.1, 1.1)),
    (0, (6, 1.4, 1.1, 1.4)),
)
CAUSE_MARKERS = {
    "capacity": "v",
    "internal short": "X",
    "open circuit": "o",
    "cut-off at once": "s",
    "leak": "D",
    "lead short": "P",
    "other": "*",
}
_FONT_FILES = {
    "font_source_sans_pro": (
        "SourceSansPro-Regular.ttf",
        "SourceSansPro-It.ttf",
        "SourceSansPro-Semibold.ttf",
    ),
    "font_source_serif_pro": (
        "SourceSerifPro-Regular.ttf",
        "SourceSerifPro-It.ttf",
        "SourceSerifPro-Semibold.ttf",
    ),
}
_RC: dict[str, Any] = {
    "font.family": ["Source Sans Pro"],
    "font.size": 7.5,
    "text.color": INK,
    "text.parse_math": False,
    "axes.labelsize": 7.5,
    "axes.titlesize": 8,
    "axes.titleweight": "semibold",
    "axes.titlelocation": "left",
    "axes.titlepad": 4,
    "axes.titley": 1.0,  # no panel has ticks above: looking for them takes a tenth of all drawing
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.5,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.unicode_minus": True,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.labelsize": 7,
    "ytick.labelsize": 7,
    "xtick.major.width": 0.5,
    "ytick.major.width": 0.5,
    "xtick.major.size": 2.5,
    "ytick.major.size": 2.5,
    "xtick.minor.size": 0,
    "ytick.minor.size": 0,
    "lines.linewidth": 0.9,
    "lines.markersize": 3,
    "legend.frameon": False,
    "legend.fontsize": 7,
    "legend.handlelength": 2.6,
    "figure.facecolor": "none",
    "axes.facecolor": "none",
    "svg.fonttype": "none",
    "svg.hashsalt": "trivet",
    "path.simplify": True,
}


_FOR_SLIDES: dict[str, Any] = {
    # a letter that the report's font lacks is taken from the drawing library's own
    "font.family": ["Source Sans Pro", "DejaVu Sans"],
    "svg.fonttype": "path",
    "figure.facecolor": "white",
}
SLIDE_DPI = 220
"""Points of a picture for slides an inch: 1470 across, as a usual slide shows them."""


@dataclass(frozen=True)
class Drawing:
    """A figure with all that is said about it.

    Attributes
    ----------
    name : str
        File name without ending.
    figure : matplotlib.figure.Figure
        The figure, not yet saved.
    caption : str
        What it shows, which table and columns it was drawn from.
    alternative : str
        The same for who can't see it.
    numbers : list of dict
        The rows it was drawn from.
    """

    name: str
    figure: Figure
    caption: str
    alternative: str
    numbers: list[Row] = field(default_factory=list)


@dataclass(frozen=True)
class Absent:
    """A figure that could not be drawn, and why."""

    name: str
    reason: str


@dataclass(frozen=True)
class GroupStyle:
    """How a group is told apart: colour, line and marker together."""

    colour: str
    line: Any
    marker: str


def group_styles(groups: Sequence[str]) -> dict[str, GroupStyle]:
    """Style of each group, by its place in the order of groups."""
    return {
        group: GroupStyle(
            GROUP_COLOURS[place % len(GROUP_COLOURS)],
            GROUP_LINES[place % len(GROUP_LINES)],
            GROUP_MARKERS[place % len(GROUP_MARKERS)],
        )
        for place, group in enumerate(groups)
    }


def font_files() -> dict[str, bytes]:
    """Every font that the report uses, by file name; from the installed packages only."""
    return {
        name: (importlib.resources.files(package) / "files" / name).read_bytes()
        for package, names in _FONT_FILES.items()
        for name in names
    }


@functools.cache
def _make_fonts_known() -> None:
    """Tell the font manager of the packaged fonts, once a process."""
    for package, names in _FONT_FILES.items():
        for name in names:
            with importlib.resources.as_file(
                importlib.resources.files(package) / "files" / name
            ) as path:
                font_manager.fontManager.addfont(path)


@contextmanager
def look() -> Iterator[None]:
    """Draw within the report's own look."""
    _make_fonts_known()
    with warnings.catch_warnings():
        # text stays text in the SVG, so a letter that the font lacks is set by the PDF's fallback
        warnings.filterwarnings("ignore", "Glyph .* missing from font")
        with mpl.rc_context(_RC):  # type: ignore[arg-type]  # values are free
            yield


@contextmanager
def look_of_slides() -> Iterator[None]:
    """Draw for slides: letters as outlines, which look alike where the font is missing."""
    log = logging.getLogger("matplotlib.font_manager")
    level = log.level
    # it says that the font that stands in has no semibold, which nobody can do anything about
    log.setLevel(logging.ERROR)
    try:
        with look(), mpl.rc_context(_FOR_SLIDES):  # type: ignore[arg-type]  # values are free
            yield
    finally:
        log.setLevel(level)


def pictures(figure: Figure, mark: str) -> tuple[bytes, bytes]:
    """Turn a figure into SVG and PNG, the same bytes every time.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure.
    mark : str
        What must be seen beside it wherever it goes; empty for nothing.
    """
    width, height = figure.get_size_inches()
    figure.text(1 - 0.05 / width, 0.05 / height, mark, ha="right", va="bottom", color=WARNING)
    vector, pixels = io.BytesIO(), io.BytesIO()
    canvas: Any = FigureCanvasSVG(figure)
    canvas.print_svg(vector, metadata={"Date": None, "Creator": "Trivet"})
    figure.set_dpi(SLIDE_DPI)
    raster: Any = FigureCanvasAgg(figure)
    raster.print_png(pixels, metadata={"Software": "Trivet"})
    return vector.getvalue(), pixels.getvalue()


def new_figure(height_in: float) -> Figure:
    """Give an empty figure as wide as the type area."""
    return Figure(figsize=(FULL_WIDTH_IN, min(height_in, TALLEST_IN)))


def svg(figure: Figure) -> bytes:
    """Turn a figure into SVG, the same bytes every time."""
    buffer = io.BytesIO()
    canvas: Any = FigureCanvasSVG(figure)
    canvas.print_svg(buffer, metadata={"Date": None, "Creator": "Trivet"})
    return compact_svg(buffer.getvalue())


def time_ticks(axes: Axes, last_h: float, most: int = 9) -> None:
    """Ticks of an axis of hours at whole weeks, days or quarters of a day, named in days."""
    for step in (6.0, 24.0, 48.0, 168.0, 336.0, 672.0, 1344.0, 2688.0):
        if last_h / step <= most:
            break
    ticks = [step * place for place in range(int(last_h / step) + 1)]
    axes.set_xticks(ticks, [f"{tick / 24:g}" for tick in ticks])


TIME_UNIT = "days"
"""Unit in which `time_ticks` names its ticks."""
SINCE_START = f"{TIME_UNIT} since the clock of the cell started"
"""Label of an axis with such ticks."""


def say_in(axes: Axes, words: str) -> None:
    """Write into an empty panel why it is empty, in place of its axes.

    Numbers of a scale stay only where other panels share it.
    """
    axes.spines[:].set_visible(False)
    axes.tick_params(length=0)
    if len(axes.get_shared_x_axes().get_siblings(axes)) == 1:
        axes.set_xticks([])
    if len(axes.get_shared_y_axes().get_siblings(axes)) == 1:
        axes.set_yticks([])
    remark_in(axes, words)


def remark_in(axes: Axes, words: str) -> None:
    """Write a remark into the middle of a panel."""
    axes.text(
        0.5,
        0.5,
        words,
        transform=axes.transAxes,
        ha="center",
        va="center",
        color=SOFT,
        style="italic",
        wrap=True,
    )


@dataclass(frozen=True)
class Margins:
    """Room around and between the panels of a figure [in]."""

    left: float = 0.55
    right: float = 0.08
    top: float = 0.44
    bottom: float = 0.46
    columns: float = 0.22
    rows: float = 0.42


def panels(
    figure: Figure,
    rows: int,
    columns: int,
    *,
    margins: Margins = Margins(),
    **options: Any,  # noqa: ANN401
) -> list[list[Axes]]:
    """Grid of panels as lists; shape (rows, columns).

    Margins are stated in inches instead of being found by trial: three times as quick.
    """
    width, height = figure.get_size_inches()
    inner = width - margins.left - margins.right - margins.columns * (columns - 1)
    upright = height - margins.top - margins.bottom - margins.rows * (rows - 1)
    places = {
        "left": margins.left / width,
        "right": 1 - margins.right / width,
        "bottom": margins.bottom / height,
        "top": 1 - margins.top / height,
        "wspace": margins.columns * columns / inner,
        "hspace": margins.rows * rows / upright,
    }
    grid = figure.subplots(rows, columns, squeeze=False, gridspec_kw=places, **options)
    for axes in grid.flat:
        axes.set_title("")  # its place is then known, with or without words
    return [list(line) for line in grid]


def key(figure: Figure, handles: Sequence[Artist], columns: int = 6) -> None:
    """Legend above all panels, at the left edge."""
    figure.legend(
        handles=list(handles),
        loc="upper left",
        bbox_to_anchor=(0, 1),
        borderaxespad=0.1,
        ncols=columns,
        columnspacing=1.4,
    )


def below(figure: Figure, words: str) -> None:
    """Label of the common horizontal axis."""
    figure.text(0.5, 0.05 / figure.get_size_inches()[1], words, ha="center", va="bottom")
