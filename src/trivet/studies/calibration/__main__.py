"""Run the calibration study: `python -m trivet.studies.calibration --replicates 40 --seed 1`."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TypeVar

from trivet.studies.calibration.builds import NUMBERS, ORDERS, Said, say
from trivet.studies.calibration.campaign_table import (
    campaign_table,
    claims_line,
    number_table,
    order_table,
)
from trivet.studies.calibration.campaigns import SURVIVAL, count
from trivet.studies.calibration.parts import (
    BUILDS,
    BUILDS_AMOUNT,
    FIRST_BUILD_SEED,
    PARTS,
    PLAIN,
    SEED,
    Part,
    Row,
)
from trivet.studies.calibration.plain import study
from trivet.studies.calibration.plain_table import interval_table, verdict_table
from trivet.studies.calibration.rates import MARGIN_TURN, RATIOS, Verdicts, heading, marked_from
from trivet.studies.calibration.verdict_file import Key, write_verdicts

Judged = TypeVar("Judged", bound=Verdicts)


def main(argv: Sequence[str] | None = None) -> None:
    """Run the study and print its tables.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program.
    """
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--replicates", type=int, default=40, help="campaigns a row and truth")
    parser.add_argument("--seed", type=int, default=SEED, help="seed of the draws")
    parser.add_argument("--verdicts", type=Path, help="file to write every verdict to")
    names = (PLAIN.name, *(part.name for part in PARTS), BUILDS)
    parser.add_argument("--parts", nargs="+", choices=names, default=names, help="what to draw")
    given = parser.parse_args(argv)
    found: dict[Key, Verdicts] = {}
    print(f"Calibration, {given.replicates} campaigns asked for, seed {given.seed}.")
    if PLAIN.name in given.parts:
        tallies = _judged(PLAIN, given.replicates, given.seed, study)
        _say(PLAIN, given.replicates, verdict_table(tallies))
        found |= _keyed(PLAIN, tallies)
        _print("Intervals", "", interval_table([tally for own in tallies for tally in own[:2]]))
    for part in PARTS:
        if part.name not in given.parts:
            continue
        counts = _judged(part, given.replicates, given.seed, count)
        _say(part, given.replicates, campaign_table(counts))
        if any(row.looks for row in part.rows):
            print(f"\n{claims_line(counts)}")
        found |= _keyed(part, counts)
    if BUILDS in given.parts:
        _say_builds(given.replicates, given.seed)
    if given.verdicts:
        write_verdicts(given.verdicts, found)


def _judged(
    part: Part[Row], replicates: int, seed: int, judge: Callable[..., Judged]
) -> list[list[Judged]]:
    """Every row of a part at every ratio."""
    return [
        [
            judge(
                row,
                ratio=ratio,
                replicates=part.replicates(replicates, turn),
                seed=part.seed(seed, place, turn),
            )
            for turn, ratio in enumerate(RATIOS)
        ]
        for place, row in enumerate(part.rows)
    ]


def _said(replicates: int, seed: int) -> list[Said]:
    """Every build."""
    number = max(1, round(BUILDS_AMOUNT * replicates))
    return [
        say(
            build,
            replicates=number,
            seed=(seed, FIRST_BUILD_SEED + place),
            survival=SURVIVAL,
        )
        for place, build in enumerate((*NUMBERS, *ORDERS))
    ]


def _say_builds(replicates: int, seed: int) -> None:
    """Print the tables of numbers of the build and of ordered factors."""
    said = _said(replicates, seed)
    number = said[0].replicates
    how = f"{number} campaigns a row; marked (!) from {marked_from(number):.1f} % on."
    _print("Numbers of the build", how, number_table(said[: len(NUMBERS)]))
    _print("Ordered factors", how, order_table(said[len(NUMBERS) :]))


def _say(part: Part[Row], replicates: int, lines: Iterable[str]) -> None:
    """Print the table of a part."""
    how = heading(
        part.replicates(replicates, MARGIN_TURN), part.replicates(replicates, len(RATIOS) - 1)
    )
    _print(part.heading, how, lines)


def _keyed(part: Part[Row], counts: Sequence[Sequence[Verdicts]]) -> dict[Key, Verdicts]:
    """Verdicts of a part by row and ratio."""
    return {
        (part.name, place, turn): verdicts
        for place, own in enumerate(counts)
        for turn, verdicts in enumerate(own)
    }


def _print(title: str, how: str, lines: Iterable[str]) -> None:
    """Print a table under its title."""
    print(f"\n{title}. {how}".rstrip() + "\n")
    for line in lines:
        print(line, flush=True)


if __name__ == "__main__":
    main()
