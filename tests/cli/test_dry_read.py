"""`trivet check` reads dry: what would leave a cell without data ends with 2 and its cause."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from raw_files import UNIX, charge, lines

from trivet.cli.main import main
from trivet.rawfiles.layout.declared import layout_named
from trivet.rawfiles.layout.patterns import find_files
from trivet.rawfiles.reading import excerpt
from trivet.rawfiles.reading.reader import read_file
from trivet.schema.settings.raw import Raw, RawFiles

CELLS = ("K-01", "K-02", "K-03", "K-04")
LAYOUT = """\
  layouts:
    bench:
      columns:
        - {header: t/h, quantity: elapsed time, unit: h}
        - {header: I/mA, quantity: current, unit: mA}
        - {header: U/V, quantity: cell voltage, unit: V}
"""
SPECTRUM = lines(
    "Frequency / Hz,Real Impedance / ohm,Imaginary Impedance / ohm",
    *(f"{10.0 ** (4 - n / 4):.5g},{10 + n},{-1 - n / 10}" for n in range(20)),
)


@pytest.fixture
def kit(campaign_folder: Path) -> Path:
    """A campaign of four cells, charged by 0.6 V in 1 h from 3.000, 3.001 ... V, that is right."""
    for path in (campaign_folder / "raw").iterdir():
        path.unlink()
    rows = [f"{cell},A,{'bead' if n % 2 else 'plain'},2026-03-02T10:00"
            for n, cell in enumerate(CELLS)]  # fmt: skip
    put(campaign_folder / "build-sheet.csv", lines("cell,batch,seal,crimped_at", *rows))
    put(campaign_folder / "bench-log.csv", "time,cell,event\n")
    for n, cell in enumerate(CELLS):
        put(campaign_folder / "raw" / f"{cell}.csv", charge(start_V=3 + n / 1000))
    return campaign_folder


def put(path: Path, text: str) -> None:
    """Write a file."""
    path.write_text(text, encoding="utf-8")


def change(folder: Path, old: str, new: str) -> None:
    """Replace a line of the settings."""
    text = (folder / "campaign.yaml").read_text(encoding="utf-8")
    assert old in text
    put(folder / "campaign.yaml", text.replace(old, new))


def refused(folder: Path, capsys: pytest.CaptureFixture[str], *more: str) -> list[str]:
    """Causes that a check ends with."""
    assert main(["check", str(folder), *more]) == 2
    said = capsys.readouterr()
    assert "Nothing is wrong" not in said.out
    return [line.strip() for line in said.err.splitlines()[1:]]


def right(folder: Path, capsys: pytest.CaptureFixture[str], *more: str) -> str:
    """What a check without any cause prints."""
    assert main(["check", str(folder), *more]) == 0
    said = capsys.readouterr().out
    assert said.endswith("Nothing is wrong.\n")
    return said


def test_of_each_cell_columns_sign_ranges_times_and_spectra_are_said(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A right campaign: columns by quantity and unit, the proof of the sign, ranges, spectra."""
    change(kit, "raw:\n", "raw:\n  impedance: [{files: 'raw/{cell}_{pair}.csv'}]\n")
    put(kit / "raw" / "K-02_positive.csv", SPECTRUM)
    said = right(kit, capsys)
    assert "layout 'bdf' (K-01, K-02, K-03, K-04): elapsed time from 'Test Time / s' in s, " in said
    assert "cell voltage from 'Voltage / V' in V" in said
    # by hand: 61 rows a minute apart, 1 mA; all but the stretch's first row count, 1 mAh in 1 h
    assert (
        "K-01: 1 cycling file, 61 rows; 0 h to 1 h; 3 to 3.6 V (limits 2.5 to 3.65 V); 1 to 1 mA "
        "(up to 0.5 C); sign of current proved by the voltage (1 mAh for it, 0 not)"
    ) in said
    assert "; spectra: positive 1" in said
    assert "cells without spectra: K-01, K-03, K-04" in said


def test_a_voltage_limit_of_the_sample_below_the_files_is_a_cause(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Limit 3.65 V against files to 4.207 V: cell, voltage and limit are named."""
    put(kit / "raw" / "K-04.csv", charge(count=61, start_V=3.607))
    assert refused(kit, capsys) == [
        "K-04: 'raw/K-04.csv' charges to 4.207 V, beyond the limit of 3.65 V; no cycling file of "
        "the cell is used."
    ]


def test_a_misspelt_header_of_the_layout_is_a_cause(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The header that no file has is named once for all cells, with the one that is meant."""
    change(kit, "    - files: raw/{cell}.csv\n", "    - {files: 'raw/{cell}.csv', layout: bench}\n")
    change(kit, "electrodes:\n", LAYOUT.replace("U/V", "Ewe/V") + "electrodes:\n")
    for n, cell in enumerate(CELLS):
        put(kit / "raw" / f"{cell}.csv", lines("t/h,I/mA,Ewe(V)", "0,1,3.0", f"1,1,3.{n}"))
    (cause,) = refused(kit, capsys)
    assert cause.startswith(
        "K-01, K-02, K-03, K-04: layout 'bench' declares 'Ewe/V', which the file does not have; "
        "its headers are 't/h', 'I/mA', 'Ewe(V)'; 'Ewe(V)' may be meant. See raw/K-01.csv, line 1."
    )


def test_a_wrong_delimiter_is_a_cause_that_names_the_right_one(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Names that stand in one piece under one delimiter, and apart under another."""
    for n, cell in enumerate(CELLS):
        put(kit / "raw" / f"{cell}.csv", charge(start_V=3 + n / 1000).replace(",", ";"))
    (cause,) = refused(kit, capsys)
    assert "; with a semicolon between columns 3 would be found." in cause


def test_a_reversed_sign_of_current_is_a_cause(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A voltage that rises under what the layout calls discharge: the charge against is said."""
    put(kit / "raw" / "K-03.csv", charge(sign=-1))
    (cause,) = refused(kit, capsys)
    assert cause.startswith("K-03: the voltage contradicts the declared sign of the current: 0 mAh")
    assert "1 mAh against" in cause


def test_a_pattern_that_matches_nothing_for_two_cells_is_a_cause(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Files named otherwise for two cells: each is named, with the file that may be meant."""
    for old, new in (("K-02", "K02"), ("K-03", "k_03")):
        (kit / "raw" / f"{old}.csv").rename(kit / "raw" / f"{new}.csv")
    assert refused(kit, capsys) == [
        "K-02: no cycling file: none matches 'raw/{cell}.csv'. Is 'raw/K02.csv' meant?",
        "K-03: no cycling file: none matches 'raw/{cell}.csv'. Is 'raw/k_03.csv' meant?",
    ]


def test_spectra_for_a_cell_without_cycling_are_a_cause(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Spectra alone place no cell in time or cycles, so that its cycling file is asked for."""
    change(kit, "raw:\n", "raw:\n  impedance: [{files: 'raw/{cell}_{pair}.csv'}]\n")
    put(kit / "raw" / "K-02_positive.csv", SPECTRUM)
    (kit / "raw" / "K-02.csv").unlink()
    assert refused(kit, capsys) == [
        "K-02: has spectra, but no cycling file: none matches 'raw/{cell}.csv'."
    ]


def test_a_spectrum_dated_far_ahead_is_told_as_a_run_tells_it(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its date is held against the build and the cycling of the cell."""
    more = """raw:
  impedance: [{files: 'raw/{cell}_eis.csv', layout: dated, pair: cell}]
  layouts:
    dated:
      columns:
        - {header: t, quantity: unix time, unit: s}
        - {header: f, quantity: frequency, unit: Hz}
        - {header: x, quantity: real, unit: ohm}
        - {header: y, quantity: imaginary, unit: ohm}
"""
    change(kit, "raw:\n", more)
    rows = [f"{4.07e9 + n:.0f},{10.0 ** (4 - n / 4):.5g},{10 + n},{-1 - n / 10}"
            for n in range(20)]  # fmt: skip
    put(kit / "raw" / "K-01_eis.csv", lines("t,f,x,y", *rows))
    (cause,) = refused(kit, capsys)
    assert cause.startswith("K-01: 20 rows are dated 2098-12-21 or later")


def test_pair_words_in_names_of_files_that_nobody_knows_are_a_cause(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`WE` and `CE` in names of files: the words and the words that are known."""
    change(kit, "raw:\n", "raw:\n  impedance: [{files: 'raw/{cell}_{pair}_{cycle}.csv'}]\n")
    for word in ("WE", "CE"):
        put(kit / "raw" / f"K-01_{word}_3.csv", SPECTRUM)
    (cause,) = refused(kit, capsys)
    assert cause.startswith("K-01: names of its files have 'CE', 'WE' where {pair} stands (")
    assert "which is none of cell, positive, negative." in cause
    assert "List other words for pairs under 'pair_words' of the layout" in cause


def test_pair_words_in_a_column_that_nobody_knows_are_a_cause(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A column of pairs in other words: the words of the file are named."""
    change(kit, "raw:\n", "raw:\n  impedance: [{files: 'raw/{cell}_eis.csv', layout: sweep}]\n")
    pairs = "".join(
        f"        - {{header: {name}, quantity: {quantity}, unit: '{unit}'}}\n"
        for name, quantity, unit in (("f", "frequency", "Hz"), ("x", "real", "ohm"),
                                     ("y", "imaginary", "ohm"), ("what", "pair", ""))
    )  # fmt: skip
    layout = f"  layouts:\n    sweep:\n      columns:\n{pairs}"
    change(kit, "electrodes:\n", f"{layout}electrodes:\n")
    put(kit / "raw" / "K-01_eis.csv", lines("f,x,y,what", "100,10,-1,WE-RE", "10,12,-2,CE-RE"))
    assert refused(kit, capsys) == [
        "K-01: its column of pairs has 'CE-RE', 'WE-RE', none of which is cell, positive, "
        "negative; list them in 'pair_words' of layout 'sweep'. See raw/K-01_eis.csv."
    ]


def test_a_file_set_aside_beside_others_is_told_and_not_called_right(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One file of two can't be read: the cell has data, and the last line says not all of it."""
    change(kit, "raw/{cell}.csv", "raw/{cell}.csv\n    - files: raw/{cell}_{part}.csv")
    put(kit / "raw" / "K-01_2.csv", "not a table\n")
    assert main(["check", str(kit)]) == 0
    said = capsys.readouterr().out
    assert "  fault, no header (K-01): raw/K-01_2.csv" in said
    assert said.endswith("but not all of its files or rows: see the faults above.\n")


def test_cells_of_which_sheet_or_log_say_why_need_no_data(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A cell that failed by the log has no file, and that is right; the reason is said."""
    put(kit / "bench-log.csv", "time,cell,event,cause\n2026-03-02T12:00,K-04,failed,lead short\n")
    (kit / "raw" / "K-04.csv").unlink()
    assert "K-04: no raw file; failed in the bench log" in right(kit, capsys)


def test_a_large_file_is_read_at_head_and_tail_and_whole_with_all(
    kit: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Head and tail give first and last time; damage amid them is seen with `--all`."""
    monkeypatch.setattr(excerpt.head_and_tail, "__kwdefaults__", {"whole_bytes": 400})
    rows = charge().splitlines()
    put(kit / "raw" / "K-01.csv", lines(*rows[:30], rows[30] + ",9,9", *rows[31:]))
    said = right(kit, capsys)
    assert "--all reads all" in said
    assert "K-01: head and tail of 1 cycling file, " in said
    assert " rows; 0 h to 1 h; 3 to 3.6 V" in said
    assert "would be set aside" not in said
    said = right(kit, capsys, "--all")
    assert "K-01: 1 cycling file, 60 rows; 0 h to 1 h; 3 to 3.6 V" in said
    assert "would be set aside: 1 row (wrong number of columns 1)" in said


def test_what_only_a_cut_makes_look_wrong_is_read_whole(
    kit: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another header amid a file makes its tail unreadable alone; read whole, nothing is wrong."""
    monkeypatch.setattr(excerpt.head_and_tail, "__kwdefaults__", {"whole_bytes": 400})
    rows = charge().splitlines()
    turned = [",".join([*row.split(",")[:1], *row.split(",")[:0:-1]]) for row in rows]
    put(kit / "raw" / "K-01.csv", lines(*rows[:30], turned[0], *turned[30:]))
    assert "K-01: 1 cycling file, 61 rows; 0 h to 1 h; 3 to 3.6 V" in right(kit, capsys)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_head_and_tail_are_rows_of_the_file(tmp_path: Path, end: str) -> None:
    """Excerpts give the first and the last rows as reading the whole file does, to the bit."""
    (tmp_path / "A.csv").write_bytes(charge(count=200).replace("\n", end).encode())
    raw = Raw(cycling=[RawFiles(files="{cell}.csv")])
    (file,) = find_files(tmp_path, raw, "A")
    layout = layout_named(raw, name="bdf", time_zone="UTC")
    parts = excerpt.head_and_tail(file, layout=layout, folder=tmp_path / "x", whole_bytes=1000)
    whole, head, tail = (read_file(one, cell="A", layout=layout) for one in (file, *parts))
    for name, column in whole.values.items():
        assert np.array_equal(head.values[name], column[: len(head.lines)])
        assert np.array_equal(tail.values[name], column[-len(tail.lines) :])
    assert 10 < len(head.lines) < 100
    assert 10 < len(tail.lines) < 100


def in_parts(folder: Path) -> None:
    """Let cells have several files, and the sheet say no time of build."""
    change(folder, "raw/{cell}.csv", "raw/{cell}.csv\n    - files: raw/{cell}_{part}.csv")
    seals = zip(CELLS, ("plain", "bead", "plain", "bead"), strict=True)
    rows = [f"{cell},A,{seal}," for cell, seal in seals]
    put(folder / "build-sheet.csv", lines("cell,batch,seal,crimped_at", *rows))


def halves(first: int, second: int) -> tuple[str, str]:
    """A charge in two files: rows up to one number, and from another on."""
    rows = charge(UNIX).splitlines()
    return lines(*rows[:first]), lines(rows[0], *rows[second:])


def test_files_that_overlap_with_other_values_are_a_cause_and_repeats_are_told(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Rows that repeat count once, and it is said; rows that differ stop the cell."""
    in_parts(kit)
    first, second = halves(40, 30)
    put(kit / "raw" / "K-01.csv", first)
    put(kit / "raw" / "K-01_2.csv", second)
    said = right(kit, capsys)
    assert "K-01: 2 cycling files, 61 rows; 1970-01-01" in said
    assert "exact duplicate (K-01): raw/K-01_2.csv: 10 rows stand in an earlier file" in said
    put(kit / "raw" / "K-01_2.csv", second.replace(",3.3", ",3.2"))
    (cause,) = refused(kit, capsys)
    assert cause.startswith("K-01: 'raw/K-01_2.csv' begins 540 s before 'raw/K-01.csv' ends")


def test_a_file_in_the_unread_midst_of_another_is_seen(
    kit: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Head and tail leave a gap; another file within it makes the cell be read whole."""
    monkeypatch.setattr(excerpt.head_and_tail, "__kwdefaults__", {"whole_bytes": 400})
    in_parts(kit)
    rows = charge(UNIX).splitlines()
    put(kit / "raw" / "K-01.csv", lines(*rows))
    put(kit / "raw" / "K-01_2.csv", lines(rows[0], *(f"{row}1" for row in rows[28:34])))
    (cause,) = refused(kit, capsys)
    assert cause.startswith("K-01: 'raw/K-01_2.csv' begins ")


def test_rows_after_the_data_cut_leave_no_cell_wrong(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of a cell that began after the data cut nothing is missing yet."""
    change(kit, "  time_zone:", "  data_cut: '2026-03-10'\n  time_zone:")
    moved = [row.split(",", 1) for row in charge(UNIX).splitlines()[1:]]
    rows = [f"{1773500000 + int(time)},{rest}" for time, rest in moved]  # 14 March 2026
    put(kit / "raw" / "K-01.csv", lines(UNIX, *rows))
    assert "K-01: 1 cycling file, 0 rows" in right(kit, capsys)


def test_exchanged_potentials_are_told_unless_the_bench_log_says_so(
    kit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The negative less the positive is the cell voltage: a caution that names both ways out."""
    header = (
        "Unix Time / s,Current / A,Voltage / V,Positive Electrode Potential / V,"
        "Negative Electrode Potential / V"
    )
    rows = (f"{1772500000 + 60 * n},0.001,{3 + n / 100:.3f},{0.2 - n / 900:.4f},"
            f"{3.2 + n / 100 - n / 900:.4f}"
            for n in range(60))  # fmt: skip
    put(kit / "raw" / "K-01.csv", lines(header, *rows))
    assert main(["check", str(kit)]) == 0
    assert "caution, potentials exchanged (K-01): " in capsys.readouterr().out
    put(
        kit / "bench-log.csv",
        lines("time,cell,event", "2026-03-02T11:00,K-01,leads exchanged"),
    )
    assert main(["check", str(kit)]) == 0
    assert "potentials exchanged" not in capsys.readouterr().out
