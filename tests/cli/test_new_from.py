"""`trivet new FOLDER --from RAW`: a campaign from a folder of exports, ready to be decided."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
import yaml
from raw_files import charge, lines

from trivet.cli.main import main
from trivet.demo.make import main as make_demo
from trivet.rawfiles.layout.patterns import find_files
from trivet.rawfiles.proposal.names import name_patterns
from trivet.schema.settings.raw import Raw

DECIDED = (
    ("positive: {material: decide", "positive: {material: LFP"),
    ("negative: {material: decide", "negative: {material: graphite"),
    ("capacity_basis_mAh: decide", "capacity_basis_mAh: 2.0"),
    ("ageing_rate: decide", "ageing_rate: 0.5"),
    ("upper_voltage_V: decide", "upper_voltage_V: 3.65"),
    ("lower_voltage_V: decide", "lower_voltage_V: 2.5"),
    ("control: decide", "control: plain"),
)
SPECTRUM = lines("f/Hz,Re/ohm,Im/ohm", *(f"{10.0 ** (4 - n / 4):.5g},{10 + n},{-1 - n / 10}"
                                         for n in range(20)))  # fmt: skip


def decide(folder: Path) -> None:
    """Decide what the settings mark, and fill in the sheet."""
    path = folder / "campaign.yaml"
    text = path.read_text(encoding="utf-8")
    for old, new in DECIDED:
        assert old in text
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    sheet = folder / "build-sheet.csv"
    rows = sheet.read_text(encoding="utf-8").splitlines()
    filled = [f"{row[:-3]},A,{'bead' if n % 2 else 'plain'},2026-01-12T10:00"
              if row.endswith(",,,") else row for n, row in enumerate(rows)]  # fmt: skip
    sheet.write_text("\n".join(filled) + "\n", encoding="utf-8")


def settings(folder: Path) -> dict[str, dict[str, object]]:
    """The settings that were written."""
    return dict(yaml.safe_load((folder / "campaign.yaml").read_text(encoding="utf-8")))


def put(folder: Path, **files: str) -> Path:
    """Write files, `__` in a name standing for a hyphen, each of other content."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / f"{name.replace('__', '-')}.csv").write_text(text, encoding="utf-8")
    return folder


def test_the_demo_is_begun_from_its_files_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Six layouts beside the open format, 8 cells, under 60 lines; decided, nothing is wrong."""
    make_demo([str(tmp_path / "demo"), "--cells", *(f"c{number:02d}" for number in range(1, 9))])
    capsys.readouterr()
    folder = tmp_path / "mine"
    assert main(["new", str(folder), "--from", str(tmp_path / "demo" / "raw")]) == 0
    assert "8 cells: c01, c02, " in capsys.readouterr().out
    assert len((folder / "campaign.yaml").read_text(encoding="utf-8").splitlines()) < 60
    assert main(["check", str(folder)]) == 2
    asked = capsys.readouterr().err
    for what in ("material", "capacity_basis_mAh", "ageing_rate", "upper_voltage_V"):
        assert f"{what}' is 'decide'" in asked
    decide(folder)
    assert main(["check", str(folder)]) == 0
    said = capsys.readouterr().out
    assert said.endswith("Nothing is wrong.\n")
    # as many as the check of the demonstration's own settings finds
    assert "raw files: cycling 8, impedance 117" in said


def test_pair_words_of_file_names_become_a_pattern_each(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`full`, `pos` and a word nobody knows: two pairs by their words, one to be decided."""
    raw = put(tmp_path / "raw", **{
        f"K__0{n}": charge(start_V=3 + n / 1000) for n in (1, 2)
    }, **{
        f"K__0{n}_{word}_{cycle}": SPECTRUM.replace("10,", f"1{n}{cycle}{at},")
        for n in (1, 2) for at, word in enumerate(("full", "pos", "other")) for cycle in (3, 50)
    })  # fmt: skip
    folder = tmp_path / "mine"
    assert main(["new", str(folder), "--from", str(raw)]) == 0
    assert "2 cells: K-01, K-02" in capsys.readouterr().out
    raw_settings = settings(folder)["raw"]
    assert [entry["files"] for entry in raw_settings["cycling"]] == ["raw/{cell}.csv"]
    assert {entry["files"]: entry["pair"] for entry in raw_settings["impedance"]} == {
        "raw/{cell}_full_{cycle}.csv": "cell",
        "raw/{cell}_pos_{cycle}.csv": "positive",
        "raw/{cell}_other_{cycle}.csv": "decide",
    }


def test_what_is_open_in_a_layout_stands_as_a_comment_and_stops_a_run(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A current that proves no sign: the question is marked `decide`, and check refuses it."""
    rest = lines("t/s,I/mA,U/V", *(f"{60 * n},0,3.{n:02d}" for n in range(30)))
    folder = tmp_path / "mine"
    assert main(["new", str(folder), "--from", str(put(tmp_path / "raw", K1=rest))]) == 0
    text = (folder / "campaign.yaml").read_text(encoding="utf-8")
    assert "# decide: sign of the current: is charging positive or negative in this file?" in text
    decide(folder)
    capsys.readouterr()
    assert main(["check", str(folder)]) == 2
    assert "charging_current' is 'decide'" in capsys.readouterr().err


def test_files_below_the_campaign_stay_where_they_are_and_nothing_is_overwritten(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exports in the folder itself are not copied; a campaign that exists is left as it is."""
    folder = tmp_path / "mine"
    raw = put(folder / "exports" / "march", K1=charge(), K2=charge(start_V=3.01))
    (raw / "notes.txt").write_text("call the workshop\n", encoding="utf-8")
    assert main(["new", str(folder), "--from", str(folder / "exports")]) == 0
    assert "left out: " in capsys.readouterr().out
    files = settings(folder)["raw"]["cycling"]
    assert files == [{"files": "exports/march/{cell}.csv", "layout": "bdf"}]
    assert not list((folder / "raw").rglob("*.csv"))
    assert main(["new", str(folder), "--from", str(folder / "exports")]) == 2
    assert "it is not overwritten" in capsys.readouterr().err


def test_a_folder_without_any_table_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is written where nothing is understood; the files are named with why."""
    raw = put(tmp_path / "raw", notes="call the workshop\n")
    assert main(["new", str(tmp_path / "mine"), "--from", str(raw)]) == 2
    assert "notes.csv: no line holds numbers" in capsys.readouterr().err
    assert not (tmp_path / "mine").exists()


@pytest.mark.parametrize(
    ("cycling", "impedance", "patterns", "cells"),
    [
        (["a/K1.csv", "a/K2.csv"], [], {"a/{cell}.csv"}, ("K1", "K2")),
        (
            ["2026-03-02_K1_1.csv", "2026-03-02_K2_1.csv", "2026-03-02_K2_2.csv"],
            [],
            {"2026-03-02_{cell}_{part}.csv"},
            ("K1", "K2"),
        ),
        (["1_run.csv", "2_run.csv"], ["1_cell_50.csv", "2_cell_50.csv"],
         {"{cell}_run.csv", "{cell}_{pair}_50.csv"}, ("1", "2")),
        (["K1/a.csv", "K2/a.csv"], ["K1/3_positive.csv", "K1/4_positive.csv"],
         {"{cell}/a.csv", "{cell}/{cycle}_{pair}.csv"}, ("K1", "K2")),
        (["K-01.csv"], [], {"{cell}.csv"}, ("K-01",)),
        (
            ["raw/A-12_cyc.csv", "raw/A-13_cyc.csv"],
            ["raw/A-12-eis-3.csv", "raw/A-12-eis-50.csv", "raw/A-13-eis-3.csv"],
            {"raw/{cell}_cyc.csv", "raw/{cell}-eis-{cycle}.csv"},
            ("A-12", "A-13"),
        ),
        (
            ["raw/K-04-cyc.csv", "raw/K-05-cyc.csv"],
            ["raw/K-04-cell-3.csv", "raw/K-05-cell-3.csv", "raw/K-05-positive-3.csv"],
            {"raw/{cell}-cyc.csv", "raw/{cell}-{pair}-3.csv"},
            ("K-04", "K-05"),
        ),
        (
            ["K-04.csv", "K05.csv", "A-12_cyc.csv", "A-13-cyc.csv", "K-04-2.csv"],
            [],
            {"{cell}.csv", "{cell}_cyc.csv", "{cell}-cyc.csv", "{cell}-2.csv"},
            ("A-12", "A-13", "K-04", "K05"),
        ),
        (
            ["raw/2026-03-02-K-04.csv", "raw/2026-03-02-K-05.csv", "raw/2026-03-03-K-05.csv"],
            [],
            {"raw/{part}-{cell}.csv"},
            ("K-04", "K-05"),
        ),
        (
            ["raw/K04-1.csv", "raw/K04-2.csv", "raw/K05-1.csv"],
            ["raw/K04_eis.csv", "raw/K05_eis.csv"],
            {"raw/{cell}-{part}.csv", "raw/{cell}_eis.csv"},
            ("K04", "K05"),
        ),
        (
            ["K1.csv", "K2.csv"],
            ["K1/K1 cyc002.csv", "K1/K1 cyc038.csv", "K2/K2 cyc002.csv"],
            {"{cell}.csv", "{cell}/{cell} cyc{cycle}.csv"},
            ("K1", "K2"),
        ),
        (
            ["K1.csv", "K2.csv"],
            [f"Zelle K1/2026-01-{n}_10{n}_Zyklus{n}.csv" for n in range(11, 19)],
            {"{cell}.csv", "Zelle {cell}/{part}_{any}_Zyklus{cycle}.csv"},
            ("K1", "K2"),
        ),
        (
            [f"ch 5/2026-01-1{n}/K1-Teil{n}.dat" for n in range(1, 9)],
            [f"2026-01-1{n}/K{m} {word}.csv" for n in range(9) for m in (1, 2)
             for word in ("cell", "anode")],
            {"ch 5/{any}/{cell}-{part}.dat", "{part}/{cell} {pair}.csv"},
            ("K1",),
        ),
    ],
)  # fmt: skip
def test_names_of_cells_are_found_in_names_of_files(
    cycling: list[str], impedance: list[str], patterns: set[str], cells: tuple[str, ...]
) -> None:
    """The word that varies, occurs in both kinds of files, and is neither date nor cycle."""
    groups = [(False, cycling), (True, impedance)] if impedance else [(False, cycling)]
    found = name_patterns(groups)
    assert {one.files for some in found for one in some} == patterns
    assert {cell for one in found[0] for cell in one.cells} == set(cells)


@pytest.mark.parametrize(
    ("names", "reading", "other"),
    [
        (
            ["K04-1.csv", "K04-2.csv", "K05-1.csv"],
            ("{cell}.csv", ("K04-1", "K04-2", "K05-1")),
            ("{cell}-{part}.csv", ("K04", "K05")),
        ),
        (
            ["lab-K-04-run.csv", "lab-K-05-run.csv"],
            ("{cell}-run.csv", ("lab-K-04", "lab-K-05")),
            ("lab-{cell}-run.csv", ("K-04", "K-05")),
        ),
        (
            ["A_12.csv", "A_13.csv", "B_12.csv"],
            ("{cell}_{part}.csv", ("A", "B")),
            ("{cell}.csv", ("A_12", "A_13", "B_12")),
        ),
        (
            ["K-04_1.csv", "K-04_2.csv"],
            ("K-04_{cell}.csv", ("1", "2")),
            ("{cell}_{part}.csv", ("K-04",)),
        ),
        (["K-04.csv", "K-05.csv"], ("{cell}.csv", ("K-04", "K-05")), ("", ())),
    ],
)
def test_two_readings_of_names_are_both_said(
    names: list[str], reading: tuple[str, tuple[str, ...]], other: tuple[str, tuple[str, ...]]
) -> None:
    """A cell is not cut at its hyphen; where its last number may be a part, both are said."""
    ((found,),) = name_patterns([(False, names)])
    assert (found.files, found.cells) == reading
    assert (found.other_files, found.other_cells) == other


def test_each_reading_gives_the_cells_that_it_names(tmp_path: Path) -> None:
    """The reader of patterns finds for each cell just the files that the proposal counted."""
    names = ["K-04_cyc.csv", "A-12_cyc.csv", "K-05-cyc.csv"]
    spectra = [f"{cell}-eis-{cycle}.csv" for cell in ("K-04", "A-12", "K-05") for cycle in (3, 50)]
    for name in (*names, *spectra):
        (tmp_path / name).write_text("", encoding="utf-8")
    cycling, impedance = name_patterns([(False, names), (True, spectra)])
    raw = Raw.model_validate(
        {
            "cycling": [{"files": one.files} for one in cycling],
            "impedance": [{"files": one.files, "pair": "cell"} for one in impedance],
        }
    )
    cells = sorted({cell for one in cycling for cell in one.cells})
    assert cells == ["A-12", "K-04", "K-05"]
    for cell in cells:
        others = [other for other in cells if other != cell]
        found = find_files(tmp_path, raw, cell, other_cells=others)
        expected = [name for name in (*names, *spectra) if name.startswith(cell)]
        assert sorted(one.relative for one in found) == sorted(expected)


def test_what_names_leave_open_is_asked_where_it_is_decided(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two readings, and two spellings of one cell, stand as comments marked `decide`."""
    raw = put(tmp_path / "raw", **{f"K04__{n}": charge(start_V=3 + n / 1000) for n in (1, 2)})
    folder = tmp_path / "mine"
    assert main(["new", str(folder), "--from", str(raw)]) == 0
    assert "which cells these are is to be decided: 'raw/{cell}.csv'" in capsys.readouterr().out
    text = (folder / "campaign.yaml").read_text(encoding="utf-8")
    assert "# decide: cells K04-1, K04-2 as below, or K04 by" in text
    assert '#   {files: "raw/{cell}-{part}.csv"}' in text
    assert [entry["files"] for entry in settings(folder)["raw"]["cycling"]] == ["raw/{cell}.csv"]
    raw = put(tmp_path / "two", **{
        f"K__0{n}": charge(start_V=3 + n / 1000) for n in (4, 5)
    }, **{f"K0{n}_eis": SPECTRUM.replace("10,", f"1{n},") for n in (4, 5)})  # fmt: skip
    assert main(["new", str(tmp_path / "other"), "--from", str(raw)]) == 0
    assert "2 cells: K-04, K-05" in capsys.readouterr().out
    text = (tmp_path / "other" / "campaign.yaml").read_text(encoding="utf-8")
    assert "# decide: 'K04' here is 'K-04' elsewhere: one name for one cell" in text


def test_a_table_of_words_is_no_raw_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A bench log among the exports is left out with its name and what it may be."""
    log = lines("Date,Cell,What,Remarks", *(f"{n}.01.2026,K1,opened,none" for n in range(10, 20)))
    raw = put(tmp_path / "raw", K1=charge(), log=log)
    assert main(["new", str(tmp_path / "mine"), "--from", str(raw)]) == 0
    printed = capsys.readouterr().out
    assert "1 cells: K1" in printed
    assert (
        "log.csv: no column of current, voltage or impedance; if it is the build sheet" in printed
    )


def test_potentials_known_by_their_difference_are_told(tmp_path: Path) -> None:
    """What no header says stands as a comment above the layout, with its proof."""
    moving = (f"{60 * n},1,{3 + n / 90:.3f},{3.2 + n / 100:.3f},{0.2 - n / 900:.5f}"
              for n in range(60))  # fmt: skip
    text = lines("t/s,I/mA,U/V,WE1 (V),WE2 (V)", *moving)
    folder = tmp_path / "mine"
    assert main(["new", str(folder), "--from", str(put(tmp_path / "raw", K1=text))]) == 0
    written = (folder / "campaign.yaml").read_text(encoding="utf-8")
    assert "# which electrode is which: 'WE1 (V)' - 'WE2 (V)' is the cell voltage" in written


def test_the_sheet_says_which_cells_need_the_start_of_cycling(tmp_path: Path) -> None:
    """Files with elapsed time only have no date; the column of the sheet is named."""
    folder = tmp_path / "mine"
    assert main(["new", str(folder), "--from", str(put(tmp_path / "raw", K1=charge()))]) == 0
    sheet = (folder / "build-sheet.csv").read_text(encoding="utf-8")
    assert "# Files of K1 hold no date: add a column 'cycling_started_at' for them." in sheet


def test_a_cell_book_and_a_log_among_the_exports_are_taken_for_what_they_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A workbook below a title and a log in own words: copied, columns named, words proposed."""
    raw = put(
        tmp_path / "exports", **{f"K0{n}": charge(start_V=3.3 + n / 100) for n in (1, 2, 3, 4)}
    )
    built = [
        ("Cells of the study",),
        ("Cell ID", "Lot", "Sealing", "Built on", "Crimped (time)", "Active mass (mg)"),
        *((f"K-0{n}", "A", "epoxy" if n % 2 else "tape", "24.01.2026", f"10:0{n}", "9,8")
          for n in (1, 2, 3, 4)),
    ]  # fmt: skip
    log = [
        ("Date", "Time", "Cell", "What", "Remarks"),
        ("24.01.2026", "12:00", "K01", "on the balance", "3412,2 mg"),
        ("25.01.2026", "12:00", "K02", "strange", "smells"),
    ]
    for name, rows in (("cell book", built), ("bench", log)):
        book = openpyxl.Workbook()
        for row in rows:
            book.active.append(row)
        book.save(raw / f"{name}.xlsx")
    folder = tmp_path / "study"
    assert main(["new", str(folder), "--from", str(raw)]) == 0
    found = settings(folder)
    assert found["build_sheet"]["file"] == "cell book.xlsx"
    assert found["build_sheet"]["factors"] == ["Sealing"]
    assert found["build_sheet"]["columns"] == {
        "cell": "Cell ID",
        "batch": "Lot",
        "crimped_at": ["Built on", "Crimped (time)"],
        "positive_active_mass_mg": "Active mass (mg)",
    }
    assert found["bench_log"]["columns"] == {
        "time": ["Date", "Time"],
        "cell": "Cell",
        "event": "What",
        "note": "Remarks",
        "mass_mg": "Remarks",
    }
    assert found["bench_log"]["words"] == {"weighed": ["on the balance"], "decide": ["strange"]}
    assert (folder / "bench.xlsx").is_file()
    assert not (folder / "build-sheet.csv").exists()
    copied = sorted(path.name for path in (folder / "raw").rglob("*") if path.is_file())
    assert copied == [f"K0{n}.csv" for n in (1, 2, 3, 4)]
    assert "build sheet: cell book.xlsx" in capsys.readouterr().out


def test_blank_rows_and_sheets_are_no_table_of_people(tmp_path: Path) -> None:
    """A workbook whose first sheet is blank, and a text that is, stop nothing."""
    files = {f"K0{n}": charge(start_V=3.3 + n / 100) for n in (1, 2)}
    raw = put(tmp_path / "exports", **files)
    (raw / "blank.txt").write_text("\n" * 30, encoding="utf-8")
    book = openpyxl.Workbook()
    for _ in range(3):
        book.active.append([None, " "])
    book.save(raw / "blank.xlsx")
    folder = tmp_path / "study"
    assert main(["new", str(folder), "--from", str(raw)]) == 0
    assert (folder / "build-sheet.csv").is_file()
