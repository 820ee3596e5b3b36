"""Impedance files: pairs, signs proved by physics, sweeps and their numbers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trivet.rawfiles.layout.patterns import find_files
from trivet.rawfiles.ledger import file_findings, ledger_row
from trivet.rawfiles.spectra import SpectraRead, read_spectra
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.raw import Layout, LayoutColumn, Raw, RawFiles

HEADER = "Frequency / Hz,Real Impedance / ohm,Imaginary Impedance / ohm"
FREQUENCIES_HZ = np.logspace(4, -1, 11)
BY_NAME = Raw(impedance=[RawFiles(files="{cell}_{pair}_{cycle}.csv")])


def impedance(resistance_ohm: float = 10.0) -> np.ndarray:
    """A resistor in series with a resistor beside a capacitor of 1 mF (textbook formula)."""
    angular = 2 * np.pi * FREQUENCIES_HZ
    return 2.0 + resistance_ohm / (1 + 1j * angular * resistance_ohm * 1e-3)


def body(spectrum: np.ndarray, prefix: str = "") -> str:
    """Rows of a spectrum, with more columns in front."""
    return "".join(
        f"{prefix}{f!r},{z.real!r},{z.imag!r}\n"
        for f, z in zip(FREQUENCIES_HZ.tolist(), spectrum.tolist(), strict=True)
    )


def read(folder: Path, files: dict[str, str], raw: Raw, cut_s: float | None = None) -> SpectraRead:
    """Write files of cell A and read them."""
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    found = find_files(folder, raw, "A")
    return read_spectra(found, cell="A", raw=raw, time_zone="UTC", data_cut_s=cut_s)


def findings(got: SpectraRead) -> dict[str, Finding]:
    """Findings by check."""
    return {found.check: found for found in [*got.findings, *file_findings(got.reads)]}


def bench(*columns: tuple[str, str, str], **changes: object) -> Raw:
    """Settings with one layout of headers, quantities and units; files are `A.csv`."""
    made = [LayoutColumn(header=h, quantity=q, unit=u) for h, q, u in columns]  # type: ignore[arg-type]
    layout = Layout(**({"columns": made} | changes))  # type: ignore[arg-type]
    pattern = RawFiles(files="{cell}.csv", layout="bench", pair="cell")
    return Raw(impedance=[pattern], layouts={"bench": layout})


PLAIN = (("f", "frequency", "Hz"), ("re", "real", "ohm"), ("im", "imaginary", "ohm"))


def test_pair_and_cycle_from_the_name_make_one_measurement(tmp_path: Path) -> None:
    """Pairs with one cycle in their names share a number; numbers follow the cycle."""
    files = {
        f"A_{pair}_{cycle}.csv": f"{HEADER}\n{body(impedance(10 * cycle + place))}"
        for cycle in (10, 9)
        for place, pair in enumerate(("cell", "positive", "negative"), start=1)
    }
    got = read(tmp_path, files, BY_NAME)
    numbers = dict(zip(got.columns["file"], got.columns["spectrum"], strict=True))
    assert numbers["A_cell_9.csv"] == numbers["A_negative_9.csv"] == 1
    assert numbers["A_positive_10.csv"] == 2
    np.testing.assert_allclose(got.columns["real_ohm"][:11], impedance(91).real, rtol=1e-15)
    np.testing.assert_allclose(got.columns["imaginary_ohm"][:11], impedance(91).imag, rtol=1e-15)
    assert np.all(np.isnan(got.columns["time_s"]))


def test_modulus_and_phase_with_units(tmp_path: Path) -> None:
    """Modulus and phase give real and imaginary part (polar form), in any unit."""
    raw = bench(("f", "frequency", "kHz"), ("mod", "modulus", "mohm"), ("phi", "phase", "rad"))
    rows = "".join(
        f"{f / 1000!r},{abs(z) * 1000!r},{np.angle(z).item()!r}\n"
        for f, z in zip(FREQUENCIES_HZ.tolist(), impedance().tolist(), strict=True)
    )
    got = read(tmp_path, {"A.csv": "f,mod,phi\n" + rows}, raw)
    np.testing.assert_allclose(got.columns["frequency_Hz"], FREQUENCIES_HZ, rtol=1e-14)
    np.testing.assert_allclose(got.columns["real_ohm"], impedance().real, rtol=1e-13)
    np.testing.assert_allclose(got.columns["imaginary_ohm"], impedance().imag, rtol=1e-13)


def test_declared_sign_of_capacitors(tmp_path: Path) -> None:
    """A file that writes minus the imaginary part is turned where the layout says so."""
    raw = bench(*PLAIN, capacitive_imaginary="positive")
    got = read(tmp_path, {"A.csv": "f,re,im\n" + body(np.conj(impedance()))}, raw)
    np.testing.assert_allclose(got.columns["imaginary_ohm"], impedance().imag, rtol=1e-15)


def test_sign_against_physics_is_set_aside(tmp_path: Path) -> None:
    """A spectrum that is inductive below 1 kHz throughout contradicts its layout."""
    got = read(tmp_path, {"A.csv": "f,re,im\n" + body(np.conj(impedance()))}, bench(*PLAIN))
    assert findings(got)["sign of imaginary part"].severity == "fault"
    assert len(got.columns["spectrum"]) == 0
    assert ledger_row(got.reads[0])["rows_set_aside"] == 11


def test_negated_negative_is_turned(tmp_path: Path) -> None:
    """A negative measured against the other pole is turned as a whole, with a finding."""
    files = {
        "A_negative_1.csv": f"{HEADER}\n{body(-impedance())}",
        "A_positive_1.csv": f"{HEADER}\n{body(-impedance(5))}",
    }
    got = read(tmp_path, files, BY_NAME)
    assert set(got.columns["pair"]) == {"negative"}
    np.testing.assert_allclose(got.columns["real_ohm"], impedance().real, rtol=1e-15)
    np.testing.assert_allclose(got.columns["imaginary_ohm"], impedance().imag, rtol=1e-15)
    assert findings(got)["negated spectrum"].file == "A_negative_1.csv"
    assert findings(got)["sign of real part"].file == "A_positive_1.csv"


def test_pairs_in_a_column_and_times(tmp_path: Path) -> None:
    """Pairs swept one after the other are one measurement; the next day's are the next."""
    columns = (*PLAIN, ("pair", "pair", ""), ("t", "unix time", "s"))
    raw = bench(*columns)
    text = "pair,t,f,re,im\n"
    for day in (0, 1):
        for place, pair in enumerate(("Cell", "positive", "negative")):
            text += body(impedance(place + 1), f"{pair},{86400 * day + 900 * place},")
    got = read(tmp_path, {"A.csv": text}, raw)
    assert sorted(set(zip(got.columns["spectrum"], got.columns["pair"], strict=True))) == [
        (number, pair) for number in (1, 2) for pair in ("cell", "negative", "positive")
    ]
    assert set(got.columns["time_s"]) == {0, 900, 1800, 86400, 87300, 88200}


def test_sweeps_are_split_where_the_frequency_turns(tmp_path: Path) -> None:
    """Several sweeps in a file are several measurements, also up and down ones."""
    down = body(impedance())
    up = "".join(reversed(down.splitlines(keepends=True)))
    got = read(tmp_path, {"A.csv": "f,re,im\n" + down + down + up}, bench(*PLAIN))
    assert np.bincount(got.columns["spectrum"].astype(int)).tolist() == [0, 11, 11, 11]


def test_unusable_rows_are_set_aside(tmp_path: Path) -> None:
    """No frequency, zero frequency, missing impedance and an unknown pair each have a finding."""
    raw = bench(*PLAIN, ("pair", "pair", ""))
    rows = "f,re,im,pair\n10,1,-1,cell\n0,1,-1,cell\n,1,-1,cell\n5,OL,-1,cell\n4,1,-1,both\n"
    got = read(tmp_path, {"A.csv": rows}, raw)
    assert list(got.columns["line"]) == [2]
    aside = ledger_row(got.reads[0])["set_aside_because"]
    assert aside == "missing impedance: 1; no frequency: 2; unknown pair: 1"
    assert {"missing impedance", "no frequency", "unknown pair"} <= set(findings(got))


def test_pair_must_be_stated(tmp_path: Path) -> None:
    """What a spectrum was measured across is never guessed."""
    raw = Raw(impedance=[RawFiles(files="{cell}.csv")])
    got = read(tmp_path, {"A.csv": f"{HEADER}\n{body(impedance())}"}, raw)
    assert findings(got)["pair not stated"].severity == "fault"
    assert len(got.columns["spectrum"]) == 0


@pytest.mark.parametrize("header", ["f,re", "re,im"])
def test_columns_that_a_spectrum_needs(tmp_path: Path, header: str) -> None:
    """Without frequency or both parts a file is set aside."""
    columns = [column for column in PLAIN if column[0] in header.split(",")]
    got = read(tmp_path, {"A.csv": f"{header}\n1,2\n"}, bench(*columns))
    assert findings(got)["missing column"].severity == "fault"


def test_spectra_after_the_cut_do_not_exist(tmp_path: Path) -> None:
    """Spectra after the cut are not counted; those without a time can't be cut, which is said."""
    raw = bench(*PLAIN, ("t", "unix time", "s"))
    text = "t,f,re,im\n" + body(impedance(), "100,") + body(impedance(), "9000,") + "9000,x,1,1\n"
    got = read(tmp_path, {"A.csv": text}, raw, cut_s=500.0)
    assert ledger_row(got.reads[0])["rows_seen"] == 11
    untimed = read(tmp_path, {"A.csv": "f,re,im\n" + body(impedance())}, bench(*PLAIN), cut_s=500.0)
    assert findings(untimed)["no absolute time"].value == 1
    assert len(untimed.columns["spectrum"]) == 11


def test_the_cycle_of_a_spectrum_is_carried(tmp_path: Path) -> None:
    """The cycle comes from a column, from a wide table, or from the name; a column outranks."""
    spectrum = body(impedance())
    named = read(tmp_path, {"A_cell_12.csv": f"{HEADER}\n{spectrum}"}, BY_NAME)
    assert set(named.columns["raw_cycle"].tolist()) == {12}
    raw = bench(*PLAIN, ("n", "cycle", ""))
    text = "n,f,re,im\n" + body(impedance(), "3,") + body(impedance(9.0), "7,")
    columns = read(tmp_path, {"A.csv": text}, raw).columns
    assert sorted(set(zip(columns["spectrum"], columns["raw_cycle"], strict=True))) == [
        (1, 3),
        (2, 7),
    ]
    wide = bench(("n", "cycle", ""), wide_real="R{frequency}", wide_imaginary="I{frequency}")
    text = "n,R100,R10,R1,I100,I10,I1\n5,1,2,3,-0.1,-1,-0.5\n9,1,2,3,-0.1,-1,-0.5\n"
    assert read(tmp_path, {"A.csv": text}, wide).columns["raw_cycle"].tolist() == [5] * 3 + [9] * 3


def test_without_a_stated_cycle_there_is_none(tmp_path: Path) -> None:
    """A file that says nothing of cycles gives none."""
    got = read(tmp_path, {"A.csv": "f,re,im\n" + body(impedance())}, bench(*PLAIN))
    assert np.all(np.isnan(got.columns["raw_cycle"]))
