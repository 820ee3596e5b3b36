"""What real exports do to their data, each defect by its name: told, and never guessed away.

The list of defects is common practice, no source; where a value is checked, its source stands
beside it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from raw_files import EXPECTED, OPEN, PLAIN, UNIX, charge, columns, lines, read

from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.raw import Layout, LayoutColumn
from trivet.science.cycling.half_cycle_measures import (
    CycleRules,
    extremes,
    measure_halves,
    without_spikes,
)
from trivet.science.cycling.half_cycles import half_cycles
from trivet.science.cycling.integrals import charge_mAh, without_offset
from trivet.store.tables import csv_bytes


def halves_of(series: dict[str, np.ndarray], *, longest_gap_s: float = 1800.0):
    """Half-cycles as the next stage measures them."""
    rules = CycleRules(
        **{
            "capacity_basis_mAh": 2.0,
            "zero_current_mA": 0.002,
            "ageing_rate": 0.5,
            "check_up_rate": 0.1,
            "rate_tolerance": 0.2,
            "upper_voltage_V": 3.65,
            "lower_voltage_V": 2.5,
            "longest_gap_s": longest_gap_s,
            "constant_voltage_band_V": 0.005,
        }
    )
    return measure_halves(series["time_s"], series["current_mA"], series["cell_V"], rules)


def cycles_text(header: str, *, extra=lambda row: "", count: int = 3) -> str:
    """Charges and discharges of an hour at 1 mA, a row a minute; `extra` appends to each row."""
    rows, time = [], 0
    for _ in range(count):
        for sign in (1, -1):
            for n in range(61):
                volt = 3.0 + 0.01 * n if sign > 0 else 3.6 - 0.01 * n
                rows.append(f"{time + 60 * n},{sign * 0.001},{volt:.3f}{extra(len(rows))}")
            time += 3600
    return lines(header, *rows)


@pytest.mark.parametrize(
    ("current", "voltage"), [(1.0, 3400.0), (1000.0, 3.4), (1.0, 0.0034), (0.001, 3.4)]
)
def test_defect_06_a_factor_of_a_thousand_stops(
    tmp_path: Path, current: float, voltage: float
) -> None:
    """Volts that are millivolts, or amperes that are milliamperes, stop the cell."""
    rows = [
        f"{60 * n},{(1 if n < 60 else -1) * current},"
        f"{voltage * (0.8 + 0.25 * (n if n < 60 else 120 - n) / 60)}"
        for n in range(121)
    ]
    got = read(tmp_path, {"A.csv": lines("t,I,U", *rows)}, Layout(columns=PLAIN), expected=EXPECTED)
    assert got.findings["file does not fit its cell"]["severity"] == "fault"
    assert got.ledger[0]["rows_used"] == 0


@pytest.mark.parametrize(("unit", "factor"), [("A", 1000.0), ("mA", 1.0), ("uA", 0.001)])
def test_defect_06_units_convert(tmp_path: Path, unit: str, factor: float) -> None:
    """Each column converts by its declared unit (SI prefixes)."""
    layout = Layout(columns=[PLAIN[0], PLAIN[2], *columns(I=f"current:{unit}")])
    got = read(tmp_path, {"A.csv": lines("t,I,U", "0,2,3.4")}, layout)
    assert list(got.series["current_mA"]) == [2 * factor]


def test_defect_08_parts_in_any_order_with_gap_and_repeats(tmp_path: Path) -> None:
    """Parts come by calendar, not by name; repeats are dropped, and the gap stays a gap."""
    files = {
        "A_b.csv": lines(UNIX, "0,0,3.4", "60,0,3.4"),
        "A_a.csv": lines(UNIX, "60,0,3.4", "7200,0,3.4"),
        "A_c.csv": lines(UNIX, "0,0,3.4", "60,0,3.4", "7200,0,3.4", "7260,0,3.4"),
    }
    got = read(tmp_path, files)
    assert sorted(set(got.series["time_s"])) == [0, 60, 7200, 7260]
    assert np.max(np.diff(got.series["time_s"])) == 7140


def test_defect_08_restart_within_a_file(tmp_path: Path) -> None:
    """An elapsed time that starts anew goes on behind the rows before, and the pause is unknown."""
    got = read(tmp_path, {"A.csv": lines(OPEN, "0,0,3.4", "60,0,3.4", "0,0,3.4", "60,0,3.4")})
    assert list(got.series["time_s"]) == [0, 60, 60, 120]
    assert got.findings["pause not known"]["line"] == 4


def test_defect_08_no_charge_is_integrated_across_a_gap(tmp_path: Path) -> None:
    """A current on both sides of a gap of two hours passes no charge in it."""
    text = lines(UNIX, "0,0.001,3.0", "60,0.001,3.1", "7260,0.001,3.1", "7320,0.001,3.2")
    series = read(tmp_path, {"A.csv": text}).series
    moved = charge_mAh(series["time_s"], series["current_mA"], sign=1, longest_gap_s=600.0)
    assert float(np.nansum(moved)) == pytest.approx(2 / 60)


def test_defect_09_cycle_counter_that_resets(tmp_path: Path) -> None:
    """The raw counter is kept and its falls are told; own half-cycles follow the current."""
    header = OPEN + ",Cycle Count / 1"
    text = cycles_text(header, extra=lambda row: f",{5 + row // 122 if row < 244 else 0}")
    got = read(tmp_path, {"A.csv": text})
    assert got.findings["cycle counter"]["value"] == 1
    assert got.series["raw_cycle"][[0, -1]].tolist() == [5, 0]
    assert len(half_cycles(got.series["current_mA"], zero_current_mA=0.002).sign) == 6


def test_defect_10_step_numbers_that_loop(tmp_path: Path) -> None:
    """Step numbers that repeat in each cycle change nothing: the current tells steps."""
    layout = Layout(columns=[*PLAIN, LayoutColumn(header="step", quantity="step")])
    plain = cycles_text("t,I,U").replace("0.001", "1")
    looped = cycles_text("t,I,U,step", extra=lambda row: f",{row // 61 % 2}").replace("0.001", "1")
    first = read(tmp_path, {"A.csv": plain}, Layout(columns=PLAIN)).series
    second = read(tmp_path, {"A.csv": looped}, layout).series
    for name in ("time_s", "current_mA", "cell_V"):
        assert first[name].tolist() == second[name].tolist()


def test_defect_11_sign_against_the_voltage(tmp_path: Path) -> None:
    """A declared sign that the voltage contradicts stops the cell."""
    got = read(tmp_path, {"A.csv": charge(sign=-1)})
    assert got.findings["sign of current"]["severity"] == "fault"


@pytest.mark.parametrize("words", [("charge", "discharge", "rest"), ("Laden", "Entladen", "Ruhe")])
def test_defect_11_words_in_place_of_a_sign(tmp_path: Path, words: tuple[str, str, str]) -> None:
    """A current without sign takes it from the words for charge and discharge."""
    layout = Layout(columns=[*PLAIN, LayoutColumn(header="state", quantity="state")])
    rows = [f"{60 * n},1,{3 + n / 100},{words[0]}" for n in range(10)]
    rows += [f"{600 + 60 * n},0,3.1,{words[2]}" for n in range(3)]
    rows += [f"{900 + 60 * n},1,{3.1 - n / 100},{words[1]}" for n in range(10)]
    got = read(tmp_path, {"A.csv": lines("t,I,U,state", *rows)}, layout)
    assert np.unique(got.series["current_mA"]).tolist() == [-1, 0, 1]
    assert "proved by the voltage" in got.assumed
    unknown = read(tmp_path, {"A.csv": lines("t,I,U,state", "0,1,3,gone")}, layout)
    assert "'gone'" in str(unknown.findings["state words"]["message"])


def test_defect_12_two_rows_at_one_time(tmp_path: Path) -> None:
    """P1-10: rows (0,+1) (1800,+1) (1800,-1) (3600,-1) hold 0.5 mAh each way (worked by hand)."""
    text = lines(UNIX, "0,0.001,3", "1800,0.001,3.1", "1800,-0.001,3.05", "3600,-0.001,2.9")
    series = read(tmp_path, {"A.csv": text}).series
    for sign in (1, -1):
        moved = charge_mAh(series["time_s"], series["current_mA"], sign=sign, longest_gap_s=3600.0)
        assert float(np.sum(moved)) == 0.5


def test_defect_13_time_that_goes_back(tmp_path: Path) -> None:
    """Rows behind a clock that was set back are set aside with a fault, never sorted in."""
    got = read(tmp_path, {"A.csv": lines(UNIX, *(f"{t},0,3.4" for t in (0, 100, 40, 90, 110)))})
    assert list(got.series["line"]) == [2, 3, 6]
    assert got.findings["clock goes back"]["severity"] == "fault"


@pytest.mark.parametrize(
    ("unit", "values", "seconds"),
    [
        ("s", ("0", "60"), 60),
        ("ms", ("0", "60000"), 60),
        ("min", ("0", "1"), 60),
        ("h", ("0", "0.5"), 1800),
        # P1-24: 0.041666667 d = 3600.0000288 s; 26:15:30.250 = 94530.25 s.
        ("d", ("0", "0.041666667"), 3600.0000288),
        ("h:m:s", ("00:00:00", "26:15:30.250"), 94530.25),
        ("h:m:s", ("0-00:00:00", "1-02:15:30.250"), 94530.25),
    ],
)
def test_defect_14_elapsed_times(
    tmp_path: Path, unit: str, values: tuple[str, str], seconds: float
) -> None:
    """Elapsed times in every unit and as clocks over 24 h (P1-24, worked by hand)."""
    layout = Layout(columns=[*PLAIN[1:], *columns(t=f"elapsed time:{unit}")])
    got = read(tmp_path, {"A.csv": lines("t,I,U", *(f"{t},0,3.4" for t in values))}, layout)
    assert float(np.diff(got.series["time_s"])[0]) == pytest.approx(seconds, rel=1e-12)


@pytest.mark.parametrize(
    ("form", "text", "unix_s"),
    [
        # P1-24: day 45000.5 is 2023-03-15 12:00 in the 1900 system, 2027-03-16 12:00 in 1904's.
        ("days from 1900", "45000.5", 1678881600),
        ("days from 1904", "45000.5", 1805198400),
        ("%d.%m.%y %H:%M:%S", "15.03.23 12:00:00", 1678881600),
        ("%m/%d/%Y %I:%M:%S %p", "03/15/2023 12:00:00 PM", 1678881600),
        ("", "2023-03-15T12:00:00", 1678881600),
    ],
)
def test_defect_14_calendar_times(tmp_path: Path, form: str, text: str, unix_s: int) -> None:
    """Day numbers of both systems, two-digit years, day first and month first as declared."""
    date = LayoutColumn(header="t", quantity="absolute time", format=form)
    got = read(
        tmp_path, {"A.csv": lines("t,I,U", f"{text},0,3.4")}, Layout(columns=[date, *PLAIN[1:]])
    )
    assert list(got.series["time_s"]) == [unix_s]


def test_defect_14_day_and_month_are_never_guessed(tmp_path: Path) -> None:
    """A date that the declared order does not allow is set aside, not read the other way."""
    date = LayoutColumn(header="t", quantity="absolute time", format="%d/%m/%Y %H:%M")
    layout = Layout(columns=[date, *PLAIN[1:]])
    text = lines("t,I,U", "05/04/2025 10:00,0,3.4", "05/13/2025 10:00,0,3.4")
    got = read(tmp_path, {"A.csv": text}, layout)
    assert got.findings["unreadable value"]["line"] == 3


def test_defect_15_daylight_saving(tmp_path: Path) -> None:
    """P1-25: Europe/Berlin, 2024-10-27 02:59:50 then 02:00:10 are 20 s apart (IANA zones)."""
    date = LayoutColumn(header="t", quantity="absolute time", format="%Y-%m-%d %H:%M:%S")
    layout = Layout(columns=[date, *PLAIN[1:]])
    text = lines("t,I,U", "2024-10-27 02:59:50,0,3.4", "2024-10-27 02:00:10,0,3.4")
    got = read(tmp_path, {"A.csv": text}, layout, time_zone="Europe/Berlin")
    assert list(got.series["time_s"]) == [1729990790, 1729990810]
    assert "hour that occurs twice" in got.findings
    naive = read(tmp_path, {"A.csv": text}, layout, time_zone="UTC")
    assert "end of summer time" in str(naive.findings["clock goes back"]["message"])


def test_defect_16_elapsed_time_that_pauses(tmp_path: Path) -> None:
    """The calendar runs on while the elapsed time stands: told, joined by the calendar."""
    header = "Test Time / s," + UNIX
    text = lines(header, "0,1000,0,3.4", "60,1060,0,3.4", "61,5000,0,3.4", "121,5060,0,3.4")
    got = read(tmp_path, {"A.csv": text})
    assert list(got.series["time_s"]) == [1000, 1060, 5000, 5060]
    assert got.findings["elapsed time paused"]["value"] == 1


def test_defect_17_times_with_too_few_digits(tmp_path: Path) -> None:
    """Rows a second apart that share one time, written to 86.4 s, are told with the resolution."""
    layout = Layout(columns=[*PLAIN[1:], *columns(t="elapsed time:d")])
    rows = [f"{n // 10 * 0.001:.3f},0,{3.4 + n / 1000}" for n in range(40)]
    got = read(tmp_path, {"A.csv": lines("t,I,U", *rows)}, layout)
    assert got.findings["coarse times"]["value"] == pytest.approx(86.4)
    assert got.ledger[0]["rows_used"] == 40


def test_defect_18_missing_or_dead_channel(tmp_path: Path) -> None:
    """No column of a potential is `not measured`; zeros or a rail are no measurement either."""
    got = read(tmp_path, {"A.csv": charge()})
    assert got.findings["electrodes not measured"]["severity"] == "note"
    header = OPEN + ",Positive Electrode Potential / V,Ambient Temperature / degC"
    body = charge(header).replace("\n", ",10.0,0\n").replace(header + ",10.0,0", header)
    got = read(tmp_path, {"A.csv": body})
    assert got.findings["constant channel"]["action"] == "taken as not measured"
    assert np.isnan(got.series["positive_V"]).all()
    assert np.isnan(got.series["negative_V"]).all()
    assert np.isnan(got.series["temperature_degC"]).all()


def test_defect_26_uneven_rows(tmp_path: Path) -> None:
    """P1-11's times with 1 mA: the charge is that of the true intervals, 1 mAh (worked by hand)."""
    text = lines(
        UNIX, *(f"{t},0.001,{v}" for t, v in ((0, 3), (10, 3), (20, 3), (30, 3), (3600, 4)))
    )
    series = read(tmp_path, {"A.csv": text}).series
    moved = charge_mAh(series["time_s"], series["current_mA"], sign=1, longest_gap_s=4000.0)
    assert float(np.sum(moved)) == pytest.approx(1.0)


def test_defect_27_missing_row_at_the_switch(tmp_path: Path) -> None:
    """P1-12: integral 0.504167 / 0.487500 against 0.508333 / 0.491667 by the counters, bounded.

    The counters stand in the file and their distance from the integral is told; the bound that
    the next stage gives contains the truth.
    """
    layout = Layout(columns=[*PLAIN, *columns(Qc="charge counter:mAh", Qd="discharge counter:mAh")])
    rows = []
    for n in range(61):
        t = 60 * n
        charged, given = min(t, 1830) / 3600, max(t - 1830, 0) / 3600
        sign, volt = (1, 3 + t / 3600) if t < 1830 else (-1, 3.5 - (t - 1830) / 3600)
        rows.append(f"{t},{sign},{volt:.6f},{charged:.6f},{given:.6f}")
    got = read(tmp_path, {"A.csv": lines("t,I,U,Qc,Qd", *rows)}, layout)
    halves = halves_of(got.series)
    np.testing.assert_allclose(halves.charge_mAh, [0.504167, 0.4875], atol=1e-6)
    off = np.abs(halves.charge_mAh - np.array([0.508333, 0.491667]))
    assert np.all(off <= halves.charge_bound_mAh)
    assert "0.508333 mAh by the counter, 0.504167 mAh by the integral" in got.assumed


def test_defect_27_charge_missing_beside_the_counter(tmp_path: Path) -> None:
    """More than 1 % between counter and integral is a caution with both numbers."""
    layout = Layout(columns=[*PLAIN, *columns(Q="charge counter:mAh")])
    rows = [f"{60 * n},1,{3 + n / 100},{1.2 * n / 60:.5f}" for n in range(61)]
    got = read(tmp_path, {"A.csv": lines("t,I,U,Q", *rows)}, layout)
    assert got.findings["counter and integral"]["value"] == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("reset", "words"),
    [(0, "never resets"), (122, "resets at each cycle"), (61, "resets at each step")],
)
def test_defect_28_counters_reset_in_many_ways(tmp_path: Path, reset: int, words: str) -> None:
    """A counter that never falls, falls each cycle or each step counts the same charge."""
    layout = Layout(columns=[*PLAIN, *columns(Q="charge counter:mAh")])

    def counter(row: int) -> str:
        total = sum(
            1 for n in range(row - row % (reset or 999), row) if n // 61 % 2 == 0 and n % 61 < 60
        )
        return f",{total / 60:.6f}"

    text = cycles_text("t,I,U,Q", extra=counter).replace("0.001", "1")
    got = read(tmp_path, {"A.csv": text}, layout)
    assert f"charge counter {words}: 3 mAh by the counter" in got.assumed
    assert "counter and integral" not in got.findings


def test_defect_29_offset_of_the_current_at_rest(tmp_path: Path) -> None:
    """A rest at 1 uA within the stated zero band is no half-cycle and passes no charge."""
    rows = [f"{60 * n},0.000001,3.4" for n in range(600)]
    series = read(tmp_path, {"A.csv": lines(OPEN, *rows)}).series
    assert len(half_cycles(series["current_mA"], zero_current_mA=0.002).sign) == 0
    assert not np.any(without_offset(series["current_mA"], zero_current_mA=0.002))


def test_defect_30_spike_at_a_switch_of_range(tmp_path: Path) -> None:
    """A spike in the first row of a step is no extreme of the voltage, and its charge counts."""
    text = charge().replace(",0.001,3.0000\n", ",0.001,4.9000\n", 1)
    series = read(tmp_path, {"A.csv": text}).series
    rows = half_cycles(series["current_mA"], zero_current_mA=0.002)
    calm = without_spikes(series["cell_V"], rows)
    assert extremes(calm, rows.first_row, rows.last_row)[1].tolist() == [3.6]
    assert halves_of(series).charge_mAh.tolist() == pytest.approx([1.0])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (charge(start_V=3.6), "charges to 4.2 V"),
        (charge(UNIX), "before the cell was built"),
        (charge().replace("0.001", "1"), "times the capacity basis"),
    ],
)
def test_defect_31_file_of_another_cell(tmp_path: Path, text: str, words: str) -> None:
    """A window, a start or a current that can't be of this cell stops the cell."""
    facts = CellFacts("A", "1", clock_start_s=1e6)
    got = read(tmp_path, {"A.csv": text}, facts=facts, expected=EXPECTED)
    assert words in str(got.findings["file does not fit its cell"]["message"])
    assert got.ledger[0]["rows_used"] == 0


def test_defect_31_a_cell_upside_down(tmp_path: Path) -> None:
    """A cell whose signs are all reversed is told as one that lies upside down in its holder."""
    rows = [f"{60 * n},-0.001,{-3.0 - 0.01 * n:.4f}" for n in range(61)]
    got = read(tmp_path, {"A.csv": lines(OPEN, *rows)}, expected=EXPECTED)
    assert "upside down" in str(got.findings["file does not fit its cell"]["message"])
    assert got.ledger[0]["rows_used"] == 0


def test_defect_32_same_file_twice(tmp_path: Path) -> None:
    """The same content under two names stops the cell; in two cells it stops both."""
    got = read(tmp_path, {"A_1.csv": charge(), "A_2.csv": charge()})
    assert got.findings["same file twice"]["severity"] == "fault"
    assert "'A_2.csv' has the same content as 'A_1.csv'" in str(
        got.findings["same file twice"]["message"]
    )
    assert [row["rows_used"] for row in got.ledger] == [0, 0]
    assert [row["rows_set_aside"] for row in got.ledger] == [61, 61]
    facts = CellFacts("A", "1", twins={"A_1.csv": "B: B.csv"})
    got = read(tmp_path, {"A_1.csv": charge()}, facts=facts)
    assert got.findings["same file for two cells"]["severity"] == "fault"
    assert sum(row["rows_used"] for row in got.ledger) == 0


def test_defect_34_polarity_of_a_potential(tmp_path: Path) -> None:
    """A turned potential is found by closure, proposed and not applied."""
    header = OPEN + ",Positive Electrode Potential / V,Negative Electrode Potential / V"
    rows = [
        f"{60 * n},0.001,{3 + n / 100:.3f},{-(3.2 + n / 100):.3f},0.200"
        if n
        else "0,0.001,3,-3.2,0.2001"
        for n in range(61)
    ]
    got = read(tmp_path, {"A.csv": lines(header, *rows)})
    assert "with the positive potential turned" in str(got.findings["polarity"]["message"])
    assert got.series["positive_V"][0] == -3.2


IMPEDANCE = [
    LayoutColumn(header="f", quantity="frequency", unit="kHz"),
    LayoutColumn(header="Z1", quantity="real", unit="ohm"),
    LayoutColumn(header="Z2", quantity="imaginary", unit="ohm"),
]
ARC = [
    (1000.0 / 4**n, 10 + 10 / (1 + (10 / 4**n) ** 2), 10 * (10 / 4**n) / (1 + (10 / 4**n) ** 2))
    for n in range(8)
]
"""Frequency [Hz], real part and minus the imaginary part of 10 ohm and a parallel 10 ohm arc."""


def spectrum(sign: int, *, ascending: bool = False, unit: float = 1000.0) -> list[str]:
    """Rows of a spectrum; `sign` is that of a capacitor's imaginary part."""
    rows = [f"{f / unit!r},{re!r},{sign * im!r}" for f, re, im in ARC]
    return rows[::-1] if ascending else rows


@pytest.mark.parametrize("ascending", [False, True])
@pytest.mark.parametrize(("sign", "declared"), [(-1, "negative"), (1, "positive")])
def test_defect_35_signs_orders_and_kilohertz(
    tmp_path: Path, ascending: bool, sign: int, declared: str
) -> None:
    """Either sign as declared, either order, kHz: a capacitive arc comes out negative (physics)."""
    layout = Layout(columns=IMPEDANCE, capacitive_imaginary=declared)  # type: ignore[arg-type]
    text = lines("f,Z1,Z2", *spectrum(sign, ascending=ascending))
    points = read(tmp_path, {"A.csv": text}, layout, impedance=True).points
    assert np.all(points["imaginary_ohm"] < 0)
    assert points["frequency_Hz"].max() == pytest.approx(1000.0)


def test_defect_35_sign_against_physics(tmp_path: Path) -> None:
    """An arc that comes out inductive is set aside: the declared sign is wrong."""
    layout = Layout(columns=IMPEDANCE)
    got = read(tmp_path, {"A.csv": lines("f,Z1,Z2", *spectrum(1))}, layout, impedance=True)
    assert got.findings["sign of imaginary part"]["severity"] == "fault"
    assert got.ledger[0]["rows_used"] == 0


def test_defect_35_several_sweeps_and_repeated_points(tmp_path: Path) -> None:
    """Sweeps split where the frequency turns or jumps back; a repeated point stays in its sweep."""
    once = spectrum(-1)
    layout = Layout(columns=IMPEDANCE)
    text = lines("f,Z1,Z2", *once, *once[::-1], *once[:3], once[2], *once[3:])
    points = read(tmp_path, {"A.csv": text}, layout, impedance=True).points
    counts = np.unique(points["spectrum"], return_counts=True)[1].tolist()
    assert sum(counts) == 25
    assert len(counts) == 3


def test_defect_35_pair_not_stated(tmp_path: Path) -> None:
    """What was measured is asked for where neither name, column nor settings say it."""
    from trivet.rawfiles.layout.patterns import find_files  # noqa: PLC0415
    from trivet.schema.settings.raw import Raw, RawFiles  # noqa: PLC0415
    from trivet.stages.read import run  # noqa: PLC0415

    (tmp_path / "A.csv").write_text(lines("f,Z1,Z2", *spectrum(-1)), encoding="utf-8")
    raw = Raw(
        impedance=[RawFiles(files="{cell}.csv", layout="bench")],
        layouts={"bench": Layout(columns=IMPEDANCE)},
    )
    tables = run(
        facts=CellFacts("A", "1"), files=find_files(tmp_path, raw, "A"), raw=raw, time_zone="UTC"
    )
    assert "pair not stated" in tables.findings["check"].to_pylist()


def test_defect_38_own_tables_hold_no_formulas(tmp_path: Path) -> None:
    """Text from raw files is escaped where a spreadsheet would compute it."""
    got = read(tmp_path, {"A.csv": "=cmd|x\n" + charge()})
    assert got.ledger[0]["preamble"] == "=cmd|x"
    assert b'"\'=cmd|x"' in csv_bytes(got.tables.ledger)


def test_defect_31_an_open_circuit_is_no_other_cell(tmp_path: Path) -> None:
    """A cell whose first charge jumps to the rail without passing charge keeps its file."""
    rows = [f"{60 * n},0.000005,{3.0 if n < 2 else 5.0}" for n in range(60)]
    got = read(tmp_path, {"A.csv": lines(OPEN, *rows)}, expected=EXPECTED)
    assert "file does not fit its cell" not in got.findings
    assert got.ledger[0]["rows_used"] == 60


def test_defect_35_pairs_in_columns(tmp_path: Path) -> None:
    """A row that holds the parts of two pairs gives a spectrum of each, and counts as one row."""
    parts = [("c", "cell"), ("p", "positive")]
    layout = Layout(
        columns=[
            IMPEDANCE[0],
            *(
                LayoutColumn(header=f"Z1{n}", quantity="real", unit="ohm", pair=pair)
                for n, pair in parts
            ),  # type: ignore[arg-type]
            *(
                LayoutColumn(header=f"Z2{n}", quantity="imaginary", unit="ohm", pair=pair)
                for n, pair in parts
            ),  # type: ignore[arg-type]
        ]
    )
    rows = [f"{f / 1000!r},{re!r},{re / 2!r},{-im!r},{-im / 2!r}" for f, re, im in ARC]
    got = read(tmp_path, {"A.csv": lines("f,Z1c,Z1p,Z2c,Z2p", *rows)}, layout, impedance=True)
    points = got.points
    assert np.unique(points["pair"], return_counts=True)[1].tolist() == [8, 8]
    assert points["real_ohm"][points["pair"] == "positive"][0] == ARC[0][1] / 2
    assert np.unique(points["spectrum"]).tolist() == [1]
    assert got.ledger[0]["rows_used"] == 8


def test_defect_35_a_label_parts_sweeps(tmp_path: Path) -> None:
    """Where the label changes a new sweep begins, though the frequency does not turn."""
    layout = Layout(columns=[LayoutColumn(header="n", quantity="cycle"), *IMPEDANCE])
    once = spectrum(-1)
    rows = [f"{1 if at < 4 else 2},{row}" for at, row in enumerate(once)]
    points = read(tmp_path, {"A.csv": lines("n,f,Z1,Z2", *rows)}, layout, impedance=True).points
    assert np.unique(points["spectrum"], return_counts=True)[1].tolist() == [4, 4]
