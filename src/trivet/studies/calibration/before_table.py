"""Verdicts of an earlier rule beside today's, on the same lives.

`python -m trivet.studies.calibration.before_table BEFORE TODAY` prints a table for each part of the
study. TODAY is what the study wrote with `--verdicts`, BEFORE a file with the same columns from
the other rule, on lives of `trivet.studies.calibration.drawn_lives`.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from trivet.studies.calibration.invented_campaigns import Campaign
from trivet.studies.calibration.invented_lives import Scenario
from trivet.studies.calibration.parts import PARTS, PLAIN, Part, Row
from trivet.studies.calibration.rates import MARGIN_TURN, RATIOS, Verdicts, share
from trivet.studies.calibration.verdict_file import Key, read_verdicts


def before_table(
    part: Part[Row], before: Mapping[Key, Verdicts], today: Mapping[Key, Verdicts]
) -> Iterator[str]:
    """Lines of the table of both rules, over the campaigns that both have judged.

    Parameters
    ----------
    part : Part
        What was drawn.
    before, today : mapping
        Verdicts of each rule by row and ratio.
    """
    yield (
        "| what is in it | false different %: first | now | false equivalent %: first | now | "
        "different at 1.25 %: first | now | at 1.5 %: first | now | at 2 %: first | now |"
    )
    yield "|---|---|---|---|---|---|---|---|---|---|---|"
    asked = [(0, "different"), (MARGIN_TURN, "equivalent")]
    asked += [(turn, "different") for turn in range(MARGIN_TURN, len(RATIOS))]
    for place, row in enumerate(part.rows):
        columns = [_words(row)]
        for turn, verdict in asked:
            both = [rule[part.name, place, turn] for rule in (before, today)]
            number = min(rule.replicates for rule in both)
            columns += [share(rule.hits(verdict, number), number) for rule in both]
        yield f"| {' | '.join(columns)} |"


def _words(row: Scenario | Campaign) -> str:
    """What a row is, in one column."""
    if isinstance(row, Campaign):
        return f"{row.words}; {row.cells}, spread {row.spread:g}"
    return ", ".join(part.strip() for part in row.words.split("|"))


def _print(part: Part[Row], before: Mapping[Key, Verdicts], today: Mapping[Key, Verdicts]) -> None:
    """Print the table of a part."""
    number = min(rule[part.name, 0, 0].replicates for rule in (before, today))
    print(f"\n{part.heading}: the first {number} campaigns of each row and ratio.\n")
    for line in before_table(part, before, today):
        print(line)


def main(argv: Sequence[str] | None = None) -> None:
    """Print the tables.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program.
    """
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("before", type=Path, help="verdicts of the earlier rule")
    parser.add_argument("today", type=Path, help="verdicts of this one")
    given = parser.parse_args(argv)
    before, today = read_verdicts(given.before), read_verdicts(given.today)
    _print(PLAIN, before, today)
    for part in PARTS:
        _print(part, before, today)


if __name__ == "__main__":
    main()
