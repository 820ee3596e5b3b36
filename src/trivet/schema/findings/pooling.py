"""Words for what earlier campaigns add to a contrast, what turns it, and what stays unknown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

_LISTED = 6
FEW = 5
"""Campaigns below which their heterogeneity is hardly known: Bender et al. 2018, Res. Synth.
Methods 9, 382-392, who call fewer than five studies very few."""


@dataclass(frozen=True)
class Joined:
    """What was found of a contrast in an earlier campaign.

    Attributes
    ----------
    group, control, factor, endpoint, clock : str
        What is compared.
    has_factor, has_lives : bool
        Whether it knows the factor, and has lives of this endpoint on this clock.
    has_group, has_control : bool
        Whether any such cell is of the group, of the control.
    blocks : tuple of str
        Batches with both.
    idle : tuple of str
        Batches with one of both only.
    informative : bool
        Whether an end was seen in its blocks that tells anything.
    """

    group: str
    control: str
    factor: str
    endpoint: str
    clock: str
    has_factor: bool = True
    has_lives: bool = True
    has_group: bool = True
    has_control: bool = True
    blocks: tuple[str, ...] = ()
    idle: tuple[str, ...] = ()
    informative: bool = True


def joined_reason(found: Joined) -> str:
    """Why a campaign, or a batch of it, adds nothing; empty where all of it joins.

    Parameters
    ----------
    found : Joined
        What was found in it.
    """
    lacking = ""
    if not found.has_factor:
        lacking = f"it does not say the {found.factor} of its cells"
    elif not found.has_lives:
        lacking = f"it has no {found.endpoint} life in {found.clock}"
    elif not (found.has_control or found.has_group):
        lacking = f"no cell of it has '{found.group}' or '{found.control}'"
    elif not found.has_control:
        lacking = f"no cell of it has the control '{found.control}'"
    elif not found.has_group:
        lacking = f"no cell of it has '{found.group}'"
    elif not found.blocks:
        lacking = f"no batch of it holds both '{found.group}' and '{found.control}'"
    elif not found.informative:
        lacking = "no end in it tells the two apart"
    if lacking:
        return f"adds nothing: {lacking}"
    if found.idle:
        one = len(found.idle) == 1
        add, hold = ("adds", "it holds") if one else ("add", "they hold")
        return f"{_batches(found.idle)} {add} nothing: {hold} only one of the two groups"
    return ""


def _batches(names: Sequence[str]) -> str:
    """Batches by name, the first few."""
    more = f" and {len(names) - _LISTED} more" if len(names) > _LISTED else ""
    word = "batch" if len(names) == 1 else "batches"
    return f"{word} {', '.join(names[:_LISTED])}{more}"


def heterogeneity_reason(campaigns: int) -> str:
    """What can't be said of how far campaigns differ; empty with enough of them.

    Parameters
    ----------
    campaigns : int
        Campaigns with a time ratio.
    """
    if campaigns < 2:
        have = "one has" if campaigns else "none has"
        return (
            f"how far campaigns differ can't be estimated, since {have} a time ratio: nothing is "
            "shrunken"
        )
    if campaigns < FEW:
        return (
            f"{campaigns} campaigns hardly say how far campaigns differ, so that shrunken ratios "
            "rest on what was set beforehand too"
        )
    return ""


def left_out_reason(names: Sequence[str]) -> str:
    """Which campaigns the common time ratio is without; empty where it has all.

    Parameters
    ----------
    names : sequence of str
        Their names.
    """
    return f"the time ratio is without {', '.join(names)}" if names else ""


@dataclass(frozen=True)
class Against:
    """What stands against a verdict on all campaigns together.

    Attributes
    ----------
    unlike, untested : bool
        Whether the groups were not followed alike, and whether no test allows for that.
    by_stops, by_bad : bool
        Whether it turns with cells taken otherwise that nobody says why they were stopped, and with
        those that looked bad taken as ended.
    """

    unlike: bool
    untested: bool
    by_stops: bool
    by_bad: bool


def against_reason(found: Against) -> str:
    """What stands against a verdict on all campaigns; empty where nothing does.

    Parameters
    ----------
    found : Against
        What was found.
    """
    parts = []
    if found.unlike:
        parts.append(
            "follow-up differs between the groups, and no test allows for it here"
            if found.untested
            else "follow-up differs between the groups: the larger p of two tests decides"
        )
    if found.by_stops:
        parts.append(
            "of some cells nobody says why they were followed no longer, and at a bound the "
            "verdict would be another"
        )
    if found.by_bad:
        parts.append("with the cells that looked bad taken as ended the verdict would be another")
    return "; ".join(parts)
