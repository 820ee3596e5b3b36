"""The checks of a reference: what each is called, may do, forbids, and asks of a person.

One entry is all that tables, findings, tasks, fitness and report need to know of a check; what it
computes stands in the module of its entry, below `trivet.science.reference.checks`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, StrEnum

from trivet.reasons import Hand, Purpose

ANCHOR_ERRORS = 2.0
"""Standard uncertainties of its known potential that the limits of an offset are widened by."""


class ReferenceCheck(StrEnum):
    """Names of the checks, as in the table `reference_checks`."""

    OFFSET = "offset"
    DRIFT = "drift"
    JUMP = "jump"
    CLOSURE = "closure"
    NOISE = "noise"
    CHARGE_LEFT = "charge left"
    SOFT_SHORT = "soft short"
    FEATURES = "features"
    FEATURE_DRIFT = "feature drift"


class Role(Enum):
    """What a check can do to the trust in a reference."""

    ANCHOR = "gives trust, and loses the reference between its last good value and a bad one"
    ANCHOR_DRIFT = "counts with the anchors of its time"
    JUMP = "loses the reference at its time; what was known of the offset ends there"
    SHORT = "loses the reference at its time, and for every purpose since the last sound cycle"
    SPENT = "loses the reference at its time"
    DOUBT = "makes suspect at worst, for a span of time"
    TELLS = "says something, gives no trust and takes none"


AT_ONCE = (Role.JUMP, Role.SPENT, Role.SHORT)
"""Roles that lose a reference exactly when they find it lost."""


@dataclass(frozen=True)
class CheckEntry:
    """What is known of a check besides its values.

    Attributes
    ----------
    module : str
        Module below `trivet.science.reference.checks` whose `watch` finds it; the modules run in
        the order in which they stand here first.
    unit : str
        Unit of its values.
    role : Role
        What it can do.
    words : str
        What findings call it; empty where a bad value gives none.
    limits : tuple of str
        Settings of the block `trust`: beyond the first it makes suspect, beyond the second lost.
    falls : bool
        Whether a bad value lies below its limit.
    spoils : tuple of Purpose
        What a reference is not fit for while its doubt lasts.
    unfit, why_unfit : str
        Reason in the table `fitness` where it forbids a number, and the same in words.
    of_a_fault, of_a_caution : Hand or None
        What its finding needs of a person.
    method : str
        How the report says by what a reference is judged, with settings in braces; empty where
        it is said elsewhere.
    source : str
        Reference of the method.
    """

    module: str
    unit: str
    role: Role
    words: str = ""
    limits: tuple[str, ...] = ()
    falls: bool = False
    spoils: tuple[Purpose, ...] = ()
    unfit: str = ""
    why_unfit: str = ""
    of_a_fault: Hand | None = None
    of_a_caution: Hand | None = None
    method: str = ""
    source: str = ""


_CURVES = (Purpose.ABSOLUTE, Purpose.DIFFERENCE, Purpose.SHAPE)

CHECKS: dict[ReferenceCheck, CheckEntry] = {
    ReferenceCheck.SOFT_SHORT: CheckEntry(
        module="soft_short",
        unit="h",
        role=Role.SHORT,
        words="soft short of the reference",
        limits=("soft_short_lasting_h", "soft_short_lasting_h"),
        spoils=tuple(Purpose),
        unfit="soft short",
        why_unfit="the reference touches an electrode",
        of_a_fault=Hand.TOUCH,
        of_a_caution=Hand.TOUCH,
        method="by a soft short, where an electrode stays within {soft_short_near_mV} mV of the "
        "reference for more than {soft_short_lasting_h} h of current and takes less than "
        "{soft_short_response} of the cell's response to it",
    ),
    ReferenceCheck.NOISE: CheckEntry(
        module="noise",
        unit="mV",
        role=Role.DOUBT,
        words="noise at rest",
        limits=("noise_suspect_mV", "noise_lost_mV"),
        spoils=tuple(Purpose),
        unfit="noise",
        why_unfit="the reference is noisier than its limit",
        of_a_fault=Hand.CLIP,
        of_a_caution=Hand.CLIP,
        method="by noise at rest beyond {noise_suspect_mV} and {noise_lost_mV} mV",
    ),
    ReferenceCheck.CLOSURE: CheckEntry(
        module="closure",
        unit="mV",
        role=Role.DOUBT,
        words="closure",
        limits=("closure_suspect_mV", "closure_lost_mV"),
        spoils=_CURVES,
        unfit="closure",
        why_unfit="the three voltages do not add up",
        of_a_fault=Hand.CLIP,
        of_a_caution=Hand.CLIP,
        method="by closure, cell less positive plus negative, beyond {closure_suspect_mV} and "
        "{closure_lost_mV} mV, which sees faults of polarity, channel and timing and never "
        "supports trust",
    ),
    ReferenceCheck.JUMP: CheckEntry(
        module="jumps",
        unit="mV",
        role=Role.JUMP,
        words="common-mode jump",
        limits=("jump_suspect_mV", "jump_lost_mV"),
        spoils=_CURVES,
        unfit="jump",
        why_unfit="the reference jumped, and its offset since then is not known",
        of_a_fault=Hand.REPLATE,
        method="by a common jump of both potentials while the cell moves less than "
        "{jump_cell_quiet_mV} mV, beyond {jump_suspect_mV} and {jump_lost_mV} mV",
    ),
    ReferenceCheck.OFFSET: CheckEntry(
        module="anchors",
        unit="mV",
        role=Role.ANCHOR,
        words="offset of the reference",
        limits=("offset_suspect_mV", "offset_lost_mV"),
        unfit="offset beyond its limit",
        why_unfit="the offset is beyond its limit, and no later known potential bounds it",
        of_a_fault=Hand.REPLATE,
        method="by offset beyond {offset_suspect_mV} and {offset_lost_mV} mV and what the known "
        "potential may be off",
    ),
    ReferenceCheck.DRIFT: CheckEntry(
        module="anchors",
        unit="mV/d",
        role=Role.ANCHOR_DRIFT,
        words="drift of the reference",
        limits=("drift_suspect_mV_per_day", "drift_lost_mV_per_day"),
        unfit="offset drifts",
        why_unfit="the offset drifts, and no later known potential bounds it",
        of_a_fault=Hand.REPLATE,
        method="by drift, a robust slope, beyond {drift_suspect_mV_per_day} and "
        "{drift_lost_mV_per_day} mV per day",
        source="Sen 1968",
    ),
    ReferenceCheck.FEATURES: CheckEntry(module="features", unit="mV", role=Role.TELLS),
    ReferenceCheck.FEATURE_DRIFT: CheckEntry(
        module="features",
        unit="mV/d",
        role=Role.TELLS,
        words="drift of the reference by features",
        of_a_fault=Hand.REPLATE,
    ),
    ReferenceCheck.CHARGE_LEFT: CheckEntry(
        module="charge",
        unit="1",
        role=Role.SPENT,
        words="plated charge left",
        limits=("charge_left_suspect", "charge_left_lost"),
        falls=True,
        unfit="plated charge used up",
        why_unfit="the plated charge counts as used up",
        of_a_fault=Hand.REPLATE,
        method="by the share of the plated charge that the measuring channels have left, below "
        "{charge_left_suspect} and {charge_left_lost}",
    ),
}
"""Every check, gravest first where several forbid a number; their modules run in this order too."""


def checks_of(*roles: Role) -> tuple[ReferenceCheck, ...]:
    """Checks that can do one of some things.

    Parameters
    ----------
    *roles : Role
        What they can do.
    """
    return tuple(check for check, entry in CHECKS.items() if entry.role in roles)
