"""What may not matter: units, sign convention, parts of a file, order of rows of one time.

The same record is written in several ways, read by its layout and computed; the results are those
of the plain file. The record is a drawing of two cycles with a switch at every end.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trivet.rawfiles.layout.patterns import find_files
from trivet.schema.cell_facts import CellFacts, LogEntry
from trivet.schema.settings.campaign import Report, Settings
from trivet.schema.settings.raw import Layout, Raw, RawFiles
from trivet.schema.settings.science import Cycling, Electrodes, Reference, Trust
from trivet.stages import read
from trivet.stages.cycling import stage as cycling

START_S = 1.7e9
FACTS = CellFacts(
    "c1",
    "b1",
    clock_start_s=START_S,
    log=(LogEntry("c1", START_S + 60.0, "plated", charge_mAh=0.04),),
)
NAMES = ("time", "current", "cell", "positive", "negative")
QUANTITIES = ("unix time", "current", "cell voltage", "positive potential", "negative potential")


@dataclass(frozen=True)
class Way:
    """One way to write the record: units and factors of time, current, potentials; the sign."""

    units: tuple[str, str, str] = ("s", "mA", "V")
    factors: tuple[float, float, float] = (1.0, 1.0, 1.0)
    sign: int = 1

    def layout(self) -> Layout:
        """Layout that declares it."""
        units = (self.units[0], self.units[1], *[self.units[2]] * 3)
        columns = [
            {"header": header, "quantity": quantity, "unit": unit}
            for header, quantity, unit in zip(NAMES, QUANTITIES, units, strict=True)
        ]
        charging = "positive" if self.sign > 0 else "negative"
        return Layout.model_validate({"columns": columns, "charging_current": charging})

    def lines(self) -> list[str]:
        """Rows of the record in this way."""
        time_s, current_mA, positive_V, negative_V = record()
        one, two, three = self.factors
        columns = [one * (START_S + time_s), self.sign * two * current_mA]
        columns += [three * part for part in (positive_V - negative_V, positive_V, negative_V)]
        return [",".join(f"{value:.17g}" for value in row) for row in zip(*columns, strict=True)]


def record() -> tuple[np.ndarray, ...]:
    """Rest, then two cycles with a rest in the middle of the charge; rows five minutes apart."""
    steps = [(1.0, 0.0, 3.30, 0.30, 0.30)]
    for _ in range(2):
        steps += [(2.0, 0.5, 3.46, 0.25, 0.12), (1.0, 0.0, 3.425, 0.20, 0.20)]
        steps += [(2.0, 0.5, 3.46, 0.12, 0.06), (4.0, -0.5, 3.39, 0.10, 0.70)]
        steps += [(0.5, 0.0, 3.42, 0.60, 0.60)]
    parts, start_s = [], 0.0
    for hours, current_mA, positive_V, first_V, last_V in steps:
        time_s = np.unique(np.append(np.arange(0.0, 3600.0 * hours + 1, 300.0), 10.0))
        share = time_s / time_s[-1]
        flat = np.ones(time_s.size)
        tilt = 0.02 * np.sign(current_mA) * share
        negative_V = first_V + share * (last_V - first_V)
        parts.append((start_s + time_s, current_mA * flat, positive_V + tilt, negative_V))
        start_s += float(time_s[-1])
    return tuple(np.concatenate(columns) for columns in zip(*parts, strict=True))


def results(folder: Path, way: Way, parts: list[list[str]]) -> dict[str, list[dict]]:
    """Write the parts of a file, read and compute them."""
    folder.mkdir(exist_ok=True)
    for number, lines in enumerate(parts):
        text = "\n".join([",".join(NAMES), *lines]) + "\n"
        (folder / f"c1_{number}.csv").write_text(text, encoding="utf-8")
    raw = Raw(
        cycling=[RawFiles(files="{cell}_{part}.csv", layout="own")], layouts={"own": way.layout()}
    )
    files = find_files(folder, raw, "c1")
    seen = read.run(facts=FACTS, files=files, raw=raw, time_zone="UTC")
    found = cycling.run(
        facts=FACTS,
        series=seen.series,
        ledger=seen.ledger,
        settings=Settings.model_construct(
            cycling=Cycling(
                capacity_basis_mAh=2.0, ageing_rate=0.25, upper_voltage_V=3.35, lower_voltage_V=2.75
            ),
            electrodes=Electrodes.model_validate(
                {"positive": {"material": "LFP"}, "negative": {"material": "graphite"}}
            ),
            reference=Reference(),
            trust=Trust(),
            report=Report(cycles_drawn=1),
        ),
    )
    names = ("cycles", "electrode_cycles", "reference_checks", "timeline")
    return {name: found.tables[name].to_pylist() for name in names}


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[dict]]:
    """Results of the record as it is."""
    return results(tmp_path_factory.mktemp("plain"), Way(), [Way().lines()])


def same(found: dict[str, list[dict]], expected: dict[str, list[dict]]) -> None:
    """All tables have the same rows, numbers to a part in ten million."""
    for name, rows in expected.items():
        assert len(found[name]) == len(rows)
        for one, other in zip(found[name], rows, strict=True):
            for key, value in other.items():
                if isinstance(value, float):
                    assert one[key] == pytest.approx(value, rel=1e-7, abs=1e-7), (name, key)
                else:
                    assert one[key] == value, (name, key)


def test_the_plain_record_is_what_was_drawn(plain: dict[str, list[dict]]) -> None:
    """Two cycles of 2 mAh each way with a trusted reference, so that sameness means something."""
    assert [row["charge_capacity_mAh"] for row in plain["cycles"]] == pytest.approx([2.0, 2.0])
    assert [row["kind"] for row in plain["cycles"]] == ["ageing", "ageing"]
    # The anchor needs a full discharge before it: the rest in the second charge gives it.
    assert [row["check"] for row in plain["reference_checks"]].count("offset") == 1
    assert {row["trust"] for row in plain["electrode_cycles"]} == {"trusted"}


@pytest.mark.parametrize(
    "way",
    [
        Way(("h", "A", "mV"), (1 / 3600, 1e-3, 1e3)),
        Way(("ms", "uA", "V"), (1e3, 1e3, 1.0)),
        Way(sign=-1),
        Way(("min", "A", "V"), (1 / 60, 1e-3, 1.0), sign=-1),
    ],
    ids=["h A mV", "ms uA V", "discharge positive", "min A, discharge positive"],
)
def test_units_and_sign_do_not_matter(
    tmp_path: Path, plain: dict[str, list[dict]], way: Way
) -> None:
    """The same record in other units, or with the other sign and its flag, gives the same."""
    same(results(tmp_path, way, [way.lines()]), plain)


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(cut=st.integers(20, 220))
def test_splitting_a_file_does_not_matter(
    tmp_path: Path, plain: dict[str, list[dict]], cut: int
) -> None:
    """A file cut in two at any row, as two parts, gives the same."""
    lines = Way().lines()
    same(results(tmp_path, Way(), [lines[:cut], lines[cut:]]), plain)


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seed=st.integers(0, 2**32 - 1))
def test_the_order_of_rows_of_one_time_does_not_matter(
    tmp_path: Path, plain: dict[str, list[dict]], seed: int
) -> None:
    """The two rows of each switch, written in any order, give the same."""
    lines, time_s = Way().lines(), record()[0]
    random = np.random.default_rng(seed)
    order = np.lexsort([random.random(time_s.size), time_s])
    same(results(tmp_path, Way(), [[lines[row] for row in order]]), plain)
