"""Records that no instrument should give: whatever they hold, the stage `cycling` ends in tables.

Run as `python -m trivet.studies.fuzz.records [RECORDS] [SEED]`. Each record is a simulated week, or
the last weeks of an invented cell, with one to three things done to it: a clock that stands still,
a gap, values that are constant, missing, turned round, in another unit, noisy, coarse, few. Every
warning of the numerics counts as an error.
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Callable, Mapping
from functools import cache
from typing import Literal

import numpy as np

from trivet.demo.plan import plan_campaign
from trivet.demo.protocol import simulate
from trivet.reasons import AnchorKind
from trivet.schema.cell_facts import CellFacts, LogEntry
from trivet.science.cycling.integrals import Floats
from trivet.stages.cycling.stage import run
from trivet.studies.fuzz.ends import asked, counted, one_of, some_of
from trivet.studies.reference_faults import START_S, ledger_of_one_file, series_of, settings_of
from trivet.studies.weeks import Week, healthy_week

RECORDS = 2_000
_DAYS = 4.0
_LAST_ROWS = 12_000
_INVENTED = (1, 2, 4)
"""Places of the invented cells in their campaign: with a check-up, a dead one, a drifting one."""
_WEEKS: Mapping[str, Literal["graphite", "lithium"]] = {
    "graphite": "graphite",
    "lithium": "lithium",
}
"""Simulated weeks by their negative."""
KINDS = (*_WEEKS, *map(str, _INVENTED))
_VALUES = ("current_mA", "cell_V", "positive_V", "negative_V")
Record = dict[str, Floats]
Damage = Callable[[Record, np.random.Generator], None]


def stand_still(record: Record, random: np.random.Generator) -> None:
    """Let the clock stand for a while."""
    rows, time_s = some_of(record["time_s"].size, random), record["time_s"]
    if time_s[rows].size:
        time_s[rows.stop :] -= time_s[rows][-1] - time_s[rows][0]
        time_s[rows] = time_s[rows][0]


def leave_a_gap(record: Record, random: np.random.Generator) -> None:
    """Let seconds or months pass between two rows."""
    record["time_s"][some_of(record["time_s"].size, random).start :] += 10 ** random.uniform(1, 7)


def hold(record: Record, random: np.random.Generator) -> None:
    """Hold a value constant: at nothing, next to nothing, at its first or at another."""
    values, rows = record[random.choice(_VALUES)], some_of(record["time_s"].size, random)
    first = values[rows][0] if values[rows].size else 0.0
    values[rows] = random.choice([0.0, 1e-9, -1e-9, 5.0, -5.0, first])


def leave_out(record: Record, random: np.random.Generator) -> None:
    """Leave a voltage or a potential out."""
    record[random.choice(_VALUES[1:])][some_of(record["time_s"].size, random)] = np.nan


def turn_round(record: Record, random: np.random.Generator) -> None:
    """Change the sign of a value."""
    record[random.choice(_VALUES)][some_of(record["time_s"].size, random)] *= -1.0


def change_unit(record: Record, random: np.random.Generator) -> None:
    """Give a value in another unit, from nano to mega."""
    record[random.choice(_VALUES)] *= 10 ** random.uniform(-9, 6)


def add_spikes(record: Record, random: np.random.Generator) -> None:
    """Put single rows far off."""
    values = record[random.choice(_VALUES)]
    if values.size:
        values[random.integers(0, values.size, 20)] = random.choice([0.0, 1e3, -1e3, 1e-6])


def cut_out(record: Record, random: np.random.Generator) -> None:
    """Leave rows out."""
    rows = some_of(record["time_s"].size, random)
    for name in record:
        record[name] = np.delete(record[name], rows)


def keep_few(record: Record, random: np.random.Generator) -> None:
    """Keep a dozen rows at most."""
    count = int(random.integers(0, 12))
    start = int(random.integers(0, max(1, record["time_s"].size - count)))
    for name in record:
        record[name] = record[name][start : start + count].copy()


def thin_out(record: Record, random: np.random.Generator) -> None:
    """Keep one row of many."""
    every = int(random.integers(2, 400))
    for name in record:
        record[name] = record[name][::every].copy()


def add_noise(record: Record, random: np.random.Generator) -> None:
    """Make a value noisy."""
    values = record[random.choice(_VALUES)]
    values += random.normal(0.0, 10 ** random.uniform(-6, 1), values.size)


def make_coarse(record: Record, random: np.random.Generator) -> None:
    """Give a value in coarse steps."""
    name, step = random.choice(_VALUES), 10 ** random.uniform(-5, 0.5)
    record[name] = np.round(record[name] / step) * step


DAMAGES: tuple[Damage, ...] = (
    stand_still,
    leave_a_gap,
    hold,
    leave_out,
    turn_round,
    change_unit,
    add_spikes,
    cut_out,
    keep_few,
    thin_out,
    add_noise,
    make_coarse,
)


@cache
def _sound(kind: str) -> Mapping[str, Floats]:
    """A record to be damaged: a week of a kind, or the end of the invented cell of a number."""
    if kind in _WEEKS:
        return vars(healthy_week(_WEEKS[kind], days=_DAYS))
    cell = simulate(plan_campaign()[int(kind)])
    assert cell is not None
    whole = {
        "time_s": cell.time_s,
        "current_mA": cell.current_mA,
        "cell_V": cell.positive_V - cell.negative_V,
        "positive_V": cell.positive_V,
        "negative_V": cell.negative_V,
    }
    return {name: values[-_LAST_ROWS:] for name, values in whole.items()}


def damaged(kind: str, random: np.random.Generator) -> tuple[Week, list[str]]:
    """A record with one to three things done to it, and what was done.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    random : numpy.random.Generator
        Source of all choices.
    """
    record: Record = {name: values.copy() for name, values in _sound(kind).items()}
    done = []
    for _ in range(int(random.integers(1, 4))):
        damage = one_of(DAMAGES, random)
        damage(record, random)
        done.append(damage.__name__)
    return Week(**record), done


def survived(kind: str, random: np.random.Generator) -> str:
    """Damage a record and compute its cycles; how it ended, in words.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    random : numpy.random.Generator
        Source of all choices.
    """
    week, _ = damaged(kind, random)
    sloping = random.random() < 0.3
    plated = LogEntry("s", START_S + 3600.0, "plated", charge_mAh=0.035)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        result = run(
            facts=CellFacts("s", "b", clock_start_s=START_S, log=(plated,)),
            series=series_of(week),
            ledger=ledger_of_one_file(),
            settings=settings_of(
                AnchorKind.NONE if sloping else AnchorKind.POSITIVE_PLATEAU,
                positive="NMC" if sloping else "LFP",
                negative="lithium" if kind == "lithium" else "graphite",
            ),
        )
    return "cycles" if result.tables["cycles"].num_rows else "no cycle"


def main(argv: list[str] | None = None) -> int:
    """Damage records and compute them, print one line; 1 where any came to another end."""
    count, seed = asked(argv, RECORDS)
    return counted(
        lambda number, random: survived(KINDS[number % len(KINDS)], random),
        count=count, seed=seed, what="records",
    )  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
