"""All figures of the report in order, and how they are kept: SVG and the numbers beside each."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa

from trivet.report.frame.data import ReportData
from trivet.report.frame.style import Absent, Drawing, look, svg
from trivet.report.section_list import SECTIONS
from trivet.store.tables import write_csv
from trivet.store.whole_file import write_whole

MAKERS: dict[str, Callable[[ReportData], list[Drawing | Absent]]] = {
    kind: maker for section in SECTIONS for kind, maker in section.figures.items()
}
"""What draws each kind of figure."""
CONTENTS = "contents.json"
"""What each figure shows, by its name."""


@dataclass(frozen=True)
class Plate:
    """A figure ready for the page.

    Attributes
    ----------
    name : str
        File name without ending.
    svg : bytes
        The figure; empty where it is absent.
    caption, alternative : str
        What is said about it; the reason where it is absent.
    numbers : pyarrow.Table
        The rows it was drawn from.
    """

    name: str
    svg: bytes
    caption: str
    alternative: str
    numbers: pa.Table

    @property
    def absent(self) -> bool:
        """Whether there is no figure, only a reason."""
        return not self.svg


def make_plates(data: ReportData) -> dict[str, list[Plate]]:
    """Draw every figure.

    Parameters
    ----------
    data : ReportData
        Tables and settings.

    Returns
    -------
    dict of str to list of Plate
        Plates by kind of figure, in the order of `MAKERS`.
    """
    plates: dict[str, list[Plate]] = {}
    with look():
        for kind, maker in MAKERS.items():
            plates[kind] = [plate_of(drawing, data.group_of) for drawing in maker(data)]
    return plates


def plate_of(drawing: Drawing | Absent, group_of: Mapping[str, str]) -> Plate:
    """Turn a drawing into what is embedded and kept.

    Parameters
    ----------
    drawing : Drawing or Absent
        The figure, or why there is none.
    group_of : mapping of str to str
        Group of each cell, which stands beside the cell in the numbers of every figure.
    """
    if isinstance(drawing, Absent):
        return Plate(drawing.name, b"", drawing.reason, drawing.reason, pa.table({}))
    return Plate(
        drawing.name,
        svg(drawing.figure),
        drawing.caption,
        drawing.alternative,
        with_groups(_typed(pa.Table.from_pylist(drawing.numbers)), group_of),
    )


def with_groups(numbers: pa.Table, group_of: Mapping[str, str]) -> pa.Table:
    """Put the group of the cell beside each cell, unless a group stands there already."""
    names = numbers.column_names
    if "cell" not in names or "group" in names:
        return numbers
    groups = pa.array([group_of.get(cell) for cell in numbers["cell"].to_pylist()], pa.string())
    return numbers.add_column(names.index("cell") + 1, "group", groups)


def _typed(table: pa.Table) -> pa.Table:
    """Give columns without any value a type, so that they can be written."""
    fields = [
        pa.field(field.name, pa.float64() if pa.types.is_null(field.type) else field.type)
        for field in table.schema
    ]
    return table.cast(pa.schema(fields))


def write_plates(plates: dict[str, list[Plate]], folder: Path) -> None:
    """Write `NAME.svg` and `NAME.csv` of every figure drawn, then the list of them.

    The list is what the workflow knows of the folder: a folder as output of its own would be
    emptied before a report is made, and a report that fails would leave none. Figures of a former
    report that are drawn no more go.
    """
    drawn = [plate for kind in plates.values() for plate in kind if not plate.absent]
    for plate in drawn:
        write_whole(folder / f"{plate.name}.svg", plate.svg)
        write_csv(plate.numbers, folder / f"{plate.name}.csv")
    names = {plate.name for plate in drawn}
    for old in [*folder.glob("*.svg"), *folder.glob("*.csv")]:
        if old.stem not in names:
            old.unlink()
    contents = {plate.name: plate.alternative for plate in drawn}
    text = json.dumps(contents, indent=2, ensure_ascii=False)
    write_whole(folder / CONTENTS, text.encode() + b"\n")
