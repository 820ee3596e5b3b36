"""The table of rate tests on a drawn cell: capacity by rate, and what a rate costs each electrode.

The drawn cell has straight potentials and loses 30 ohm times the current at its positive and 10 ohm
at its negative; every number is by hand.
"""

import numpy as np
import pyarrow as pa
import pytest
from drawn_cell import ELECTRODES, FACTS, START_s, ledger_table, series_table

from trivet.reasons import RateReason
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.campaign import Settings
from trivet.schema.settings.inference import Lifetime, SuddenEnd
from trivet.schema.settings.science import Cycling, Reference, Trust
from trivet.stages.cycling.stage import run

CYCLING = Cycling(
    capacity_basis_mAh=2.0,
    ageing_rate=0.5,
    check_up_rate=0.1,
    upper_voltage_V=4.2,
    lower_voltage_V=2.5,
    longest_gap_s=3600.0,
)


def half(level_mA, capacity_mAh):
    """Rows of a half-cycle: time, current, potentials; a charge goes back the way it came."""
    seconds = 3600.0 * capacity_mAh / abs(level_mA)
    time_s = np.unique(np.concatenate([[0.0, 10.0], np.linspace(0.0, seconds, 200)]))
    given = capacity_mAh * time_s / seconds
    given = given if level_mA < 0 else capacity_mAh - given
    positive_V = 4.1 - 0.25 * given + 0.030 * level_mA
    negative_V = 0.08 + 0.3 * given - 0.010 * level_mA
    # the last row of each half-cycle lies at its limit
    positive_V[-1] = (4.2 if level_mA > 0 else 2.5) + negative_V[-1]
    return time_s, np.full(time_s.size, float(level_mA)), positive_V, negative_V


def series(rates, capacities, charge_mA=0.2, degrees=None):
    """A rest, then a charge and a discharge at each rate."""
    parts = [(np.array([0.0, 1800.0, 3600.0]), np.zeros(3), np.full(3, 3.6), np.full(3, 0.5))]
    for rate, capacity in zip(rates, capacities, strict=True):
        charging = charge_mA if charge_mA else 2.0 * rate
        parts += [half(charging, capacity), half(-2.0 * rate, capacity)]
    starts = np.cumsum([0.0] + [part[0][-1] for part in parts])
    columns = [np.concatenate(values) for values in zip(*parts, strict=True)]
    time_s = np.concatenate([p[0] + s for p, s in zip(parts, starts, strict=False)])
    table = series_table(
        {
            "time_s": START_s + time_s,
            "current_mA": columns[1],
            "cell_V": columns[2] - columns[3],
            "positive_V": columns[2],
            "negative_V": columns[3],
        }
    )
    if degrees is None:
        return table
    # one temperature a cycle, that of the rest first
    cycle = np.repeat(np.arange(len(parts)), [p[0].size for p in parts])
    values = np.array([degrees[0], *np.repeat(degrees, 2)])[cycle]
    place = table.column_names.index("temperature_degC")
    return table.set_column(place, table.schema.field(place), pa.array(values))


RATES = [0.1, 0.1, 0.5, 1.0, 2.0]
CAPACITIES = [2.0, 2.0, 1.8, 1.6, 1.2]


def lines(table, facts=FACTS):
    """The table of rate tests."""
    found = run(
        facts=facts,
        series=table,
        ledger=ledger_table(),
        settings=Settings.model_construct(
            cycling=CYCLING,
            electrodes=ELECTRODES,
            reference=Reference(),
            trust=Trust(),
            lifetime=Lifetime(sudden=SuddenEnd(open_circuit_margin_V=2.0)),
        ),
    )
    return found.tables["rate_capability"].to_pylist()


def test_capacity_and_loss_by_rate():
    """At 0.5, 1 and 2 per hour: 0.8, 1.8 and 3.8 mA more through 30 and 10 ohm."""
    base, *others = lines(series(RATES, CAPACITIES))
    assert base["reason"] == RateReason.LOWEST
    assert base["cycles"] == 2
    assert base["cell_loss_mV"] is None
    for line, rate, capacity in zip(others, RATES[2:], CAPACITIES[2:], strict=True):
        more_mA = 2.0 * rate - 0.2
        assert line["reason"] == ""
        assert line["base_cycle"] == base["cycle"] == 2
        assert line["c_rate"] == pytest.approx(rate)
        assert line["discharge_capacity_mAh"] == pytest.approx(capacity, rel=0.01)
        assert line["capacity_share"] == pytest.approx(capacity / 2.0, rel=0.01)
        assert line["positive_loss_mV"] == pytest.approx(30.0 * more_mA, rel=0.05)
        assert line["negative_loss_mV"] == pytest.approx(10.0 * more_mA, rel=0.05)
        both = line["positive_loss_mV"] + line["negative_loss_mV"]
        assert line["cell_loss_mV"] == pytest.approx(both)
        assert line["positive_share"] == pytest.approx(0.75, abs=0.02)
        apart_h = line["time_h"] - base["time_h"]
        assert line["loss_error_mV"] == pytest.approx(apart_h / 24.0 / np.sqrt(3.0))


def test_unlike_temperatures_are_not_compared():
    """A cycle 5 K warmer than the base has its capacity, no share and no loss."""
    _, middle, warm, _ = lines(series(RATES, CAPACITIES, degrees=[25.0, 25.0, 26.0, 30.0, 25.0]))
    assert middle["reason"] == ""
    assert warm["reason"] == RateReason.TEMPERATURE
    assert (warm["temperature_degC"], warm["base_temperature_degC"]) == (30.0, 25.0)
    assert warm["discharge_capacity_mAh"] is not None
    for name in ("capacity_share", "cell_loss_mV", "positive_loss_mV", "positive_share"):
        assert warm[name] is None


def test_charges_at_other_currents_start_elsewhere():
    """Charged at its own rate and not held, a discharge does not start at the base's state."""
    _, *others = lines(series(RATES, CAPACITIES, charge_mA=None))
    assert {line["reason"] for line in others} == {RateReason.CHARGED_OTHERWISE}
    assert all(line["capacity_share"] is not None for line in others)


def test_without_a_reference_the_cell_alone_is_compared():
    """Nothing is said of electrodes where the reference was never plated."""
    _, *others = lines(
        series(RATES, CAPACITIES), facts=CellFacts("c1", "b1", clock_start_s=START_s)
    )
    for line in others:
        assert line["reason"] == RateReason.REFERENCE
        assert line["cell_loss_mV"] is not None
        assert line["positive_loss_mV"] is None


def test_ageing_is_no_rate_test():
    """Two rates give no lines."""
    assert lines(series([0.1, 0.5, 0.5, 0.1, 0.5], [2.0, 1.8, 1.8, 2.0, 1.8])) == []
