"""The figures of the report for slides: SVG and PNG, their letters drawn."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from trivet.report.figure_list import MAKERS
from trivet.report.frame.data import ReportData
from trivet.report.frame.style import Absent, look_of_slides, pictures


@dataclass(frozen=True)
class Slide:
    """A figure for slides.

    Attributes
    ----------
    name : str
        File name without ending.
    svg, png : bytes
        The figure.
    shows : str
        What it shows, for who can't see it.
    """

    name: str
    svg: bytes
    png: bytes
    shows: str


def slides(data: ReportData) -> Iterator[Slide]:
    """Draw every figure of the report that can be drawn, one after the other.

    Parameters
    ----------
    data : ReportData
        Tables and settings.
    """
    mark = "invented data" if data.settings.campaign.invented else ""
    for maker in MAKERS.values():
        with look_of_slides():
            drawn = [
                (one.name, *pictures(one.figure, mark), one.alternative)
                for one in maker(data)
                if not isinstance(one, Absent)
            ]
        for name, svg, png, shows in drawn:
            yield Slide(name, svg, png, shows)
