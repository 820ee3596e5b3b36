"""Figures: vector, the same every time, drawn from the tables, or absent with a reason."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType
from xml.etree import ElementTree

import pyarrow.csv as pa_csv
import pytest
from report_campaign import with_rows

from trivet.report.figure_list import Plate, make_plates, write_plates
from trivet.report.frame.compact_svg import compact_svg
from trivet.report.frame.data import ReportData, ReportSettings, gather
from trivet.report.frame.style import Absent, Drawing, look, new_figure, say_in, time_ticks
from trivet.report.sections.appendix.reference_tables import reference_tables
from trivet.report.sections.comparison import effects
from trivet.report.sections.cycling import span_of_working
from trivet.report.sections.measures import by_strength
from trivet.report.sections.reference import offsets, reference
from trivet.report.sections.survival import answer_curves, survival_curves
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import empty

Plates = dict[str, list[Plate]]


def test_every_figure_is_vector_and_carries_no_date(plates: Plates) -> None:
    """No pixels inside, no clock."""
    for plate in (plate for kind in plates.values() for plate in kind):
        assert not plate.absent
        root = ElementTree.fromstring(plate.svg)
        assert not [node for node in root.iter() if node.tag.endswith("}image")]
        assert b"dc:date" not in plate.svg


def test_the_same_tables_give_the_same_figures(data: ReportData, plates: Plates) -> None:
    """Drawn twice, a figure has the same bytes."""
    again = make_plates(data)
    for kind, drawn in plates.items():
        assert [plate.svg for plate in drawn] == [plate.svg for plate in again[kind]]


def test_captions_name_the_table_they_were_drawn_from(plates: Plates) -> None:
    """A reader can find each drawn number in a table of that name."""
    names = {name for name, table in TABLES.items() if table.archived}
    for plate in (plate for kind in plates.values() for plate in kind):
        source = plate.caption.split("From ")[-1].replace("(", " ").replace(",", " ")
        assert names & set(source.split()), plate.caption


def test_lives_of_which_nothing_was_followed_have_a_sentence(data: ReportData) -> None:
    """Where every reference is censored at its start, no empty panel is drawn."""
    rows = [
        row for row in data.rows["survival"] if row["endpoint"] != "reference" or row["time"] == 0.0
    ]
    (found,) = survival_curves(with_rows(data, survival=rows))
    assert isinstance(found, Absent)
    assert found.reason == (
        "No survival curve of the endpoint reference: none was followed beyond its start."
    )


def test_life_lines_name_every_cell(data: ReportData, plates: Plates) -> None:
    """No cell is left out: neither the excluded one nor the one without data."""
    text = plates["life_lines"][0].svg.decode()
    for row in data.rows["cells"]:
        assert f"{row['cell']} " in text
    assert "excluded" in text
    assert "no data" in text


def test_survival_is_drawn_through_the_numbers_of_the_table(data: ReportData) -> None:
    """The bold curve of the control has exactly the steps of the table, from 1 at time 0."""
    with look():
        drawing = answer_curves(data)[0]
    assert isinstance(drawing, Drawing)
    axes = drawing.figure.axes[0]
    bold = max(axes.lines, key=lambda line: line.get_linewidth())
    rows = [
        row
        for row in data.rows["survival"]
        if (row["endpoint"], row["clock"], row["group"]) == ("cell", "hours", "tape")
    ]
    assert list(bold.get_ydata()) == [1.0, *(row["survival"] for row in rows)]
    assert list(bold.get_xdata()) == [0.0, *(row["time"] for row in rows)]


def test_withheld_potentials_are_said_not_drawn(plates: Plates) -> None:
    """A panel of an untrusted reference says that it is withheld."""
    assert b"withheld" in plates["potentials"][0].svg


def test_limits_of_the_offset_are_said_as_set_and_as_used(data: ReportData) -> None:
    """LFP, known to 2 mV: drawn and said are 9 and 24 mV, beside the settings of 5 and 20 mV."""
    with look():
        drawing = offsets(data)[0]
    assert isinstance(drawing, Drawing)
    assert "suspect beyond 9 mV, lost beyond 24 mV" in drawing.caption
    assert "the settings (5 and 20 mV; common practice, no source)" in drawing.caption
    assert "twice the 2 mV" in drawing.caption
    levels = [line.get_ydata() for line in drawing.figure.axes[0].lines[:2]]
    assert [list(level) for level in levels] == [[-24.0, -24.0], [24.0, 24.0]]
    for caption in (reference(data)["table"].caption, reference_tables(data)["table"].caption):
        assert "suspect beyond 9 mV, lost beyond 24 mV" in caption


def test_the_numbers_stand_beside_each_figure(plates: Plates, tmp_path: Path) -> None:
    """Each SVG has a CSV with the rows it was drawn from."""
    write_plates(plates, tmp_path)
    names = {path.stem for path in tmp_path.glob("*.svg")}
    assert names == {path.stem for path in tmp_path.glob("*.csv")}
    drawn = pa_csv.read_csv(tmp_path / "survival-cell.csv")
    assert {"time", "survival", "lower", "upper", "censored"} <= set(drawn.column_names)


def test_the_group_stands_beside_each_cell_in_the_numbers(data: ReportData, plates: Plates) -> None:
    """Who draws a figure again finds the group of each cell in its numbers."""
    group_of = {row["cell"]: row["group"] for row in data.rows["cells"]}
    drawn = {plate.name: plate.numbers for kind in plates.values() for plate in kind}
    with_cells = {name: t.to_pylist() for name, t in drawn.items() if "cell" in t.column_names}
    assert {"capacity", "life-lines", "potentials"} <= set(with_cells)
    for name, rows in with_cells.items():
        assert all(row["group"] == group_of.get(row["cell"]) for row in rows), name


def test_without_tables_every_figure_gives_its_reason(invented: ModuleType) -> None:
    """An empty campaign has no empty panel, only reasons."""
    tables = {name: empty(table) for name, table in TABLES.items() if table.archived}
    tables["cells"] = invented.make()["cells"]
    settings = ReportSettings.model_validate(invented.SETTINGS)
    drawn = make_plates(gather(settings=settings, tables=tables))
    absent = [plate for kind in drawn.values() for plate in kind if plate.absent]
    assert {plate.name for plate in absent} >= {"survival-cell", "capacity", "potentials"}
    assert all(plate.caption.endswith(".") for plate in absent)


def test_lean_figures_keep_what_is_drawn_and_refuse_unknown_styles() -> None:
    """Bare groups go, attributes stay; a style sheet that is not known raises."""
    head = '<svg xmlns="http://www.w3.org/2000/svg"><defs><style>{}</style></defs>'
    body = (
        '<g id="a"><g clip-path="url(#c)"><path d="M 1.23456 2" style="fill: none"/></g></g></svg>'
    )
    known = "*{stroke-linejoin: round; stroke-linecap: butt}"
    text = compact_svg((head.format(known) + body).encode()).decode()
    assert '<path d="M 1.23 2" fill="none"' in text
    assert 'clip-path="url(#c)"' in text
    assert 'id="a"' not in text
    with pytest.raises(ValueError, match="unknown style sheet"):
        compact_svg((head.format("*{fill: red}") + body).encode())


def test_retention_spans_the_data_and_marks_a_dead_cell_at_the_edge() -> None:
    """A cell at nothing does not press the others together: a cross stands where it fell."""
    with look():
        axes = new_figure(2.0).subplots()
    rows = [
        {"cell": cell, "cycle": cycle, "kind": "ageing", "retention": value}
        for cell, last in (("a", 0.82), ("b", 0.0))
        for cycle, value in ((1, 1.0), (2, 0.95), (3, last))
    ]
    span_of_working(axes, rows, "retention", dead=0.4, also=0.8)
    low, high = axes.get_ylim()
    assert 0.7 < low < 0.8
    assert 1.0 < high < 1.1
    (marks,) = axes.lines
    assert list(marks.get_xdata()) == [3]


def test_time_is_named_in_days_at_whole_weeks() -> None:
    """An axis of hours has ticks at multiples of 168 h that read 0, 7, 14."""
    with look():
        axes = new_figure(2.0).subplots()
    time_ticks(axes, 800.0)
    assert list(axes.get_xticks()) == [0.0, 168.0, 336.0, 504.0, 672.0]
    assert [label.get_text() for label in axes.get_xticklabels()] == ["0", "7", "14", "21", "28"]


def test_an_empty_panel_has_a_sentence_and_no_axis() -> None:
    """No scale is invented where nothing was measured."""
    with look():
        axes = new_figure(2.0).subplots()
    say_in(axes, "withheld")
    assert [text.get_text() for text in axes.texts] == ["withheld"]
    assert list(axes.get_xticks()) == list(axes.get_yticks()) == []
    assert not any(spine.get_visible() for spine in axes.spines.values())


def test_effects_have_rows_for_ratios_only(data: ReportData) -> None:
    """A contrast without a ratio is counted in the caption and takes no row."""
    rows = [dict(row) for row in data.rows["comparisons"]]
    (first, *_) = [row for row in rows if row["measure"] == "time ratio"]
    first["estimate"] = None
    with look():
        (drawing,) = effects(with_rows(data, comparisons=rows))
    assert isinstance(drawing, Drawing)
    ratios = sum(row["measure"] == "time ratio" for row in rows)
    assert len(drawing.figure.axes[0].get_yticklabels()) == ratios - 1
    assert "1 contrast has too few ends" in drawing.caption


def test_measures_stand_in_the_order_of_their_p(data: ReportData) -> None:
    """The smallest p first, those without one last."""
    (one, *_) = data.rows["measures"]
    rows = [{**one, "measure": name, "p": p} for name, p in
            (("a", None), ("b", 0.4), ("c", 0.002), ("d", 0.03))]  # fmt: skip
    found = by_strength(with_rows(data, measures=rows))
    assert [row["measure"] for row in found] == ["c", "d", "b", "a"]
