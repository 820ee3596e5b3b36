"""Marks of figures name their cells and groups, and the PDF gets the same picture more simply."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree as Tree

import numpy as np
import pytest
from matplotlib import image
from matplotlib.figure import Figure

from trivet.report.figure_list import Plate
from trivet.report.frame.compact_svg import SVG
from trivet.report.frame.data import ReportData
from trivet.report.frame.marks import (
    CELL,
    GROUPS,
    attribute_of,
    each_of_a_cell,
    names_of,
    of_cell,
    of_groups,
)
from trivet.report.frame.paper_svg import paper_svg
from trivet.report.frame.style import look, new_figure, panels, svg
from trivet.report.render import own_parts, printed
from trivet.report.web.page import render_page

Plates = dict[str, list[Plate]]
OF_CELLS = ("life_lines", "capacity", "margin", "polarisation", "fading", "reference", "measures",
            "trends", "slopes", "potentials", "nyquist")  # fmt: skip
HOSTILE = "a/b c+d \"<&>' ä"


def marked(content: bytes, name: str) -> set[str]:
    """Names that the marks of a figure carry."""
    nodes = Tree.fromstring(content).iter()
    return {found for node in nodes for found in names_of(node.get(name, ""))}


def drawn() -> Figure:
    """Lines, points and bars of two cells and two groups."""
    figure = new_figure(2.0)
    axes = panels(figure, 1, 1)[0][0]
    of_cell(axes.plot([0, 1], [0, 1], "o-", ms=3), HOSTILE)
    of_cell([axes.errorbar([0.5], [0.5], yerr=[0.1], fmt="s")], "c2")
    each_of_a_cell(axes.hlines([0.2, 0.4], 0, 1), ["c2", HOSTILE])
    of_groups(axes.plot([0, 1], [1, 0]), "tape", HOSTILE)
    axes.plot([0, 0.4, 0.4], [0.7, 0.7, 0.9], "k--", lw=3)
    axes.plot([0.1, 0.9], [0.3, 0.8], "r", lw=4, alpha=0.5)
    axes.plot([0.1, 0.9], [0.8, 0.3], "r", lw=4, alpha=0.5)
    axes.scatter([0.2, 0.8], [0.9, 0.1], marker="^")
    axes.set_xlabel("right of the middle")
    return figure


def test_marks_name_cells_and_groups_whatever_these_are_called() -> None:
    """Names come back as they were typed, and nothing in the figure leads anywhere."""
    with look():
        content = svg(drawn())
    assert marked(content, CELL) == {HOSTILE, "c2"}
    assert marked(content, GROUPS) == {"tape", HOSTILE}
    assert b"trivet:" not in content
    with pytest.raises(ValueError, match="not of a mark"):
        attribute_of("https://example.org/x")


@pytest.mark.parametrize("kind", OF_CELLS)
def test_figures_of_cells_name_every_cell_they_draw(
    plates: Plates, data: ReportData, kind: str
) -> None:
    """Cells with a value in the numbers of a figure have a mark in it; others are none."""
    for plate in plates[kind]:
        names = set(plate.numbers["cell"].to_pylist())
        found = marked(plate.svg, CELL)
        assert found
        assert found <= set(data.cells)
        assert len(found - names) == 0 or kind == "life_lines"


def test_survival_effects_and_causes_name_groups(plates: Plates, data: ReportData) -> None:
    """A curve is about its group, a contrast about the group and its control."""
    for kind in ("answer", "survival", "effects", "causes", "probability"):
        found = set().union(*(marked(plate.svg, GROUPS) for plate in plates[kind]))
        assert found, kind
        assert found <= set(data.groups)


def test_the_page_has_numbers_for_names_and_a_rule_that_dims(
    data: ReportData, plates: Plates
) -> None:
    """Marks carry the numbers that the filter looks for, as rows do, and no name."""
    page = render_page(data, plates).decode()
    figures = re.findall(r"<svg.*?</svg>", page, re.DOTALL)
    numbers = {n for one in figures for text in re.findall(r'data-cells="([\d ]+)"', one)
               for n in text.split()}  # fmt: skip
    assert numbers == {str(place) for place in range(len(data.cells))}
    assert not re.search(r"data-(cell|group)=", " ".join(figures))
    assert "svg .aside { opacity" in page


def test_the_pdf_gets_simpler_elements() -> None:
    """No copy, no anchor and no name is left; circles are circles, neighbours of one pen one."""
    with look():
        content = svg(drawn())
    before, after = Tree.fromstring(content), Tree.fromstring(paper_svg(content))
    tags = [node.tag.removeprefix(f"{{{SVG}}}") for node in after.iter()]
    assert f"{{{SVG}}}use" in {node.tag for node in before.iter()}
    assert "use" not in tags
    assert tags.count("circle") == 2
    assert len(tags) < sum(1 for _ in before.iter())
    names = {name for node in after.iter() for name in node.attrib}
    assert not names & {CELL, GROUPS, "text-anchor"}


def picture(content: bytes, folder: Path) -> np.ndarray:
    """A figure as the library of the PDF and another program show it; shape (rows, columns, 3)."""
    style = '<html lang="en"><link rel="stylesheet" href="trivet:style.css">'
    parts = {**own_parts({}), "trivet:figure.svg": (content, "image/svg+xml")}
    pdf, _ = printed(f'{style}<figure><img src="trivet:figure.svg" alt="lines"></figure>', parts)
    (folder / "p.pdf").write_bytes(pdf)
    command = ["pdftoppm", "-r", "150", "-png", "-singlefile", "p.pdf", "p"]
    subprocess.run(command, cwd=folder, check=True)
    shown: np.ndarray = image.imread(folder / "p.png")[..., :3]
    return shown


def test_the_pdf_gets_the_same_picture(tmp_path: Path) -> None:
    """Copied or written out, alone or as one line: the picture of the page is the same."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed (Debian: poppler-utils)")
    with look():
        content = svg(drawn())
    simple = paper_svg(content)
    kept, given = (picture(one, tmp_path) for one in (content, simple))
    # edges of marks may be rounded to another pixel
    assert np.sum(np.abs(kept - given).max(axis=2) > 0.3) < 10
    moved = re.sub(rb'cx="[\d.]+"', b'cx="100"', simple)
    assert np.sum(np.abs(kept - picture(moved, tmp_path)).max(axis=2) > 0.3) > 100


def test_clips_hold_for_all_that_was_clipped() -> None:
    """What lies beyond the axes stays clipped, however many elements share the clip."""
    with look():
        figure = new_figure(2.0)
        axes = panels(figure, 1, 1)[0][0]
        lines = [axes.plot([-9, 9], [place, place])[0] for place in range(3)]
        axes.set_xlim(0, 1)
        root = Tree.fromstring(svg(figure))
    clipped = [node for node in root.iter() if "clip-path" in node.attrib]
    assert len(clipped) == 1
    assert len(clipped[0]) == len(lines)
