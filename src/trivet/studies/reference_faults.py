"""Which checks of the reference answer to which fault, and how often to none.

`python -m trivet.studies.reference_faults` prints the table that stands in tests/STUDIES.md;
`--weeks 1000` makes the healthy rows of as many weeks.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from trivet.reasons import AnchorKind
from trivet.schema.cell_facts import CellFacts, LogEntry
from trivet.schema.settings.campaign import Settings
from trivet.schema.settings.science import Cycling, Electrodes, Reference
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.cycling.stage import run
from trivet.store.tables import make_table
from trivet.studies import weeks
from trivet.studies.sloping_cell import LOWER_V, UPPER_V

CHECKS = (
    "offset",
    "drift",
    "jump",
    "closure",
    "noise",
    "soft short",
    "charge left",
    "swapped leads",
    "reversed lead",
    "drift of the reference by features",
)
"""Checks R1 and R6 (offset), R2 to R5, R7, R8, and what closure says of leads, and the features."""

FEATURES = CHECKS[-1]
START_S = 1.7e9
WINDOW_V = (2.8, 3.38)
"""Lower and upper limit of the simulated weeks with a plateau [V]."""
RUNS, SEED = 5, 20260301
SOUND_OHM, LOW_OHM = 1e9, 3e7
"""Input resistance of a sound channel and of one that drains the mesh [ohm]."""


@dataclass(frozen=True)
class Case:
    """One fault.

    Attributes
    ----------
    name : str
        What is wrong.
    negative : {"graphite", "lithium"}
        What the negative is; the anchor is the rest plateau of LFP, or the rest of lithium.
    fault : callable
        What makes it.
    own : tuple of str
        Checks that must find it.
    also : tuple of str
        Checks that may find it too; any other is a false alarm.
    channel_ohm : float
        Input resistance of the channels [ohm].
    sloping : bool
        Whether the positive slopes, so that there is no anchor.
    """

    name: str
    negative: weeks.Negative
    fault: weeks.Fault
    own: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    channel_ohm: float = SOUND_OHM
    sloping: bool = False


CASES = (
    Case("12 mV off, LFP plateau", "graphite", weeks.off(12.0), ("offset",)),
    Case("12 mV off, rested lithium", "lithium", weeks.off(12.0), ("offset",)),
    Case("drift of 3 mV a day", "graphite", weeks.drifting(3.0), ("drift",), ("offset",)),
    Case("jump of 12 mV", "graphite", weeks.jumping(12.0), ("jump", "offset"), ("drift",)),
    Case("jump of 300 mV", "lithium", weeks.jumping(300.0), ("jump", "offset")),
    Case("lithium used up", "graphite", weeks.exhausted, ("jump", "offset")),
    Case("gain of the cell channel", "graphite", weeks.wrong_gain(0.001), ("closure",)),
    Case("noise of 2 mV", "graphite", weeks.noisy(2.0), ("noise",), ("jump", "drift")),
    Case(
        "short to graphite",
        "graphite",
        weeks.shorted("negative"),
        ("soft short", "offset", "jump"),
        ("drift",),
    ),
    Case(
        "short to a lithium negative",
        "lithium",
        weeks.shorted("negative"),
        ("soft short",),
        ("jump",),
    ),
    Case(
        "the same from the plating on",
        "lithium",
        weeks.shorted("negative", from_h=0.0),
        ("soft short",),
    ),
    Case(
        "short to the positive",
        "graphite",
        weeks.shorted("positive"),
        ("soft short", "offset", "jump"),
    ),
    Case(
        "channel of 30 megohm",
        "graphite",
        weeks.sound,
        ("charge left",),
        channel_ohm=LOW_OHM,
    ),
    Case("leads exchanged", "graphite", weeks.exchanged, ("swapped leads", "closure")),
    Case("positive reversed", "graphite", weeks.reversed_positive, ("reversed lead", "closure")),
    *(
        Case(f"{name}, sloping positive", "graphite", fault, own, also, sloping=True)
        for name, fault, own, also in (
            ("drift of 3 mV a day", weeks.drifting(3.0), (FEATURES,), ()),
            ("jump of 30 mV", weeks.jumping(30.0), ("jump",), (FEATURES,)),
            ("lithium used up", weeks.exhausted, ("jump",), (FEATURES,)),
            ("gain of the cell channel", weeks.wrong_gain(0.001), ("closure",), ()),
            ("noise of 2 mV", weeks.noisy(2.0), ("noise",), ("jump",)),
            ("short to graphite", weeks.shorted("negative"), ("soft short", "jump"), (FEATURES,)),
            ("leads exchanged", weeks.exchanged, ("swapped leads", "closure"), ()),
        )
    ),
)
HEALTHY = (
    Case("none, sloping positive", "graphite", weeks.sound, sloping=True),
    Case("none, graphite", "graphite", weeks.sound),
    Case("none, lithium", "lithium", weeks.sound),
)


def series_of(week: weeks.Week) -> pa.Table:
    """The table `series` of a week."""
    count = week.time_s.size
    nothing = np.full(count, np.nan)
    return make_table(
        TABLES["series"],
        {
            "cell": ["s"] * count,
            "time_s": START_S + week.time_s,
            "elapsed_s": nothing,
            "current_mA": week.current_mA,
            "cell_V": week.cell_V,
            "positive_V": week.positive_V,
            "negative_V": week.negative_V,
            "temperature_degC": nothing,
            "raw_cycle": nothing,
            "file": ["s.csv"] * count,
            "line": np.arange(2, count + 2),
        },
    )


def ledger_of_one_file() -> pa.Table:
    """A ledger of one file with times of the calendar."""
    row = {column.name: "" if column.type == "text" else 0 for column in TABLES["ledger"].columns}
    row |= {"cell": "s", "file": "s.csv", "content": "cycling", "absolute_time": "yes"}
    return make_table(TABLES["ledger"], {name: [value] for name, value in row.items()})


def settings_of(
    anchor: AnchorKind,
    *,
    positive: str = "LFP",
    negative: str = "graphite",
    window_V: tuple[float, float] = WINDOW_V,
    channel_ohm: float | None = None,
) -> Settings:
    """What the stage `cycling` is told of a simulated week.

    Parameters
    ----------
    anchor : AnchorKind
        Known potential.
    positive, negative : str
        Materials.
    window_V : tuple of float
        Lower and upper limit of the cell voltage [V].
    channel_ohm : float or None
        Input resistance of the reference's channel [ohm].
    """
    lower_V, upper_V = window_V
    return Settings.model_construct(
        cycling=Cycling(
            capacity_basis_mAh=2.0,
            ageing_rate=0.5,
            upper_voltage_V=upper_V,
            lower_voltage_V=lower_V,
        ),
        electrodes=Electrodes.model_validate(
            {"positive": {"material": positive}, "negative": {"material": negative}}
        ),
        reference=Reference.model_validate(
            {"anchor": anchor.value, "channel_resistance_ohm": channel_ohm}
        ),
    )


def fired(case: Case, *, seed: int) -> frozenset[str]:
    """Run one simulated week and give the checks that found something.

    Parameters
    ----------
    case : Case
        The fault.
    seed : int
        Seed of the noise [1].
    """
    random = np.random.default_rng([SEED, seed])
    whole = weeks.sloping_weeks() if case.sloping else weeks.healthy_week(case.negative)
    week = weeks.read(case.fault(whole, random), random)
    plated = LogEntry("s", START_S + 3600.0 * _plated_h(case), "plated", charge_mAh=0.035)
    lithium = case.negative == "lithium"
    plateau = AnchorKind.NEGATIVE_REST if lithium else AnchorKind.POSITIVE_PLATEAU
    anchor = AnchorKind.NONE if case.sloping else plateau
    result = run(
        facts=CellFacts("s", "b", clock_start_s=START_S, log=(plated,)),
        series=series_of(week),
        ledger=ledger_of_one_file(),
        settings=settings_of(
            anchor,
            positive="NMC" if case.sloping else "LFP",
            negative=case.negative,
            window_V=(LOWER_V, UPPER_V) if case.sloping else WINDOW_V,
            channel_ohm=case.channel_ohm,
        ),
    )
    bad = {
        row["check"]
        for row in result.tables["reference_checks"].to_pylist()
        if row["trust"] in ("suspect", "lost")
    }
    leads = {finding.check for finding in result.findings} & set(CHECKS[-3:])
    return frozenset(bad | leads)


def _plated_h(case: Case) -> float:
    """When the reference of a case was plated: before its first cycle [h]."""
    return 0.2 if case.sloping else weeks.PLATED_H


def confusion(case: Case, *, runs: int) -> Counter[str]:
    """Count in how many of some weeks each check found something."""
    return Counter(check for seed in range(runs) for check in fired(case, seed=seed))


def false_alarms(case: Case, *, number: int) -> int:
    """Count the weeks of a healthy reference in which any check found something."""
    return sum(bool(fired(case, seed=seed)) for seed in range(number))


def _cell(case: Case, check: str, count: int, runs: int) -> str:
    """One field: bold where the check must answer, in brackets where it is a false alarm."""
    if check in case.own:
        return f"**{count}**"
    if not count:
        return ""
    return str(count) if check in case.also else f"({count} of {runs}!)"


def table(*, runs: int = RUNS) -> Iterable[str]:
    """Lines of the confusion table in Markdown."""
    yield f"| fault ({runs} weeks each) | {' | '.join(CHECKS)} |"
    yield "|---|" + "---|" * len(CHECKS)
    for case in CASES:
        counts = confusion(case, runs=runs)
        fields = (_cell(case, check, counts[check], runs) for check in CHECKS)
        yield f"| {case.name} | {' | '.join(fields)} |"


def healthy(*, number: int) -> Iterable[str]:
    """Sentences on the false alarms of healthy references, with the exact upper bound."""
    for case in HEALTHY:
        found = false_alarms(case, number=number)
        bound = "" if found else f"; at most {100 * (1 - 0.05 ** (1 / number)):.2f} % at 95 %"
        yield f"Fault {case.name}: an alarm in {found} of {number} weeks{bound}."


def main(argv: Sequence[str] | None = None) -> None:
    """Print the table and the false alarms."""
    parser = argparse.ArgumentParser(description="Which check answers to which fault.")
    parser.add_argument("--runs", type=int, default=RUNS, help="weeks a fault")
    parser.add_argument("--weeks", type=int, default=0, help="weeks of healthy references")
    given = parser.parse_args(argv)
    lines = [*table(runs=given.runs)] if given.runs else []
    if given.weeks:
        lines += ["", *healthy(number=given.weeks)]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
