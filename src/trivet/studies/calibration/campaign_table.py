"""Tables of campaigns with stops, looks, checks and entries, and of numbers of the build."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from trivet.studies.calibration.builds import Said
from trivet.studies.calibration.campaigns import Count
from trivet.studies.calibration.rates import VERDICT_HEADS, rate, share, verdict_columns


def campaign_table(counts: Sequence[Sequence[Count]]) -> Iterator[str]:
    """Lines of the table of verdicts.

    Parameters
    ----------
    counts : sequence of sequence of Count
        Each campaign at every ratio of `RATIOS`.
    """
    yield f"| what is in it | cells | spread | {VERDICT_HEADS} |"
    yield "|---|---|---|---|---|---|---|---|---|"
    for own in counts:
        campaign = own[0].campaign
        columns = (
            campaign.words,
            campaign.cells,
            f"{campaign.spread:g}",
            *verdict_columns(own),
        )
        yield f"| {' | '.join(columns)} |"


def claims_line(counts: Sequence[Sequence[Count]]) -> str:
    """Sentence on claims that a later look no longer made."""
    every = [each for own in counts for each in own]
    claims, lost = sum(each.claims for each in every), sum(each.lost for each in every)
    return f"Differences shown before the planned end: {claims}; not shown at a later cut: {lost}."


def number_table(said: Sequence[Said]) -> Iterator[str]:
    """Lines of the table of numbers of the build.

    Parameters
    ----------
    said : sequence of Said
        What was said of each build.
    """
    yield (
        "| number of the build | cells | association at 5 % | not estimable % | "
        "called apart in the groups % | verdict different % |"
    )
    yield "|---|---|---|---|---|---|"
    for each in said:
        silent = each.build.acts == 1.0
        columns = (
            each.build.words,
            each.build.campaign.cells,
            (rate if silent else share)(each.told["association"], each.replicates),
            share(each.told["no association"], each.replicates),
            share(each.told["apart"], each.replicates),
            share(each.told["different"], each.replicates),
        )
        yield f"| {' | '.join(columns)} |"


def order_table(said: Sequence[Said]) -> Iterator[str]:
    """Lines of the table of ordered factors.

    Parameters
    ----------
    said : sequence of Said
        What was said of each build.
    """
    yield "| ordered factor | cells | trend at 5 % | verdict different % |"
    yield "|---|---|---|---|"
    for each in said:
        alike = each.build.ratio == 1.0
        shown = rate if alike else share
        columns = (
            each.build.words,
            each.build.campaign.cells,
            shown(each.told["trend"], each.replicates),
            shown(each.told["different"], each.replicates),
        )
        yield f"| {' | '.join(columns)} |"
