"""What a person has to do about a finding: by its check, never by its sentence."""

from __future__ import annotations

from trivet.reasons import Hand
from trivet.reference_checks import CHECKS

AT_THE_CELL = (Hand.REPLATE, Hand.TOUCH, Hand.CLIP, Hand.ANCHOR)
"""What can only be done while the cell is running."""

OF_A_FAULT: dict[str, Hand] = {
    **{each.words: each.of_a_fault for each in CHECKS.values() if each.of_a_fault},
    "swapped leads": Hand.EXCHANGE,
    "reversed lead": Hand.TURN,
    "no data": Hand.FILES,
    "factor in the build sheet": Hand.SHEET,
}
"""What a fault needs by its check."""

OF_A_CAUTION: dict[str, Hand] = {
    **{each.words: each.of_a_caution for each in CHECKS.values() if each.of_a_caution},
    "polarity": Hand.TURN,
    "unreachable folder": Hand.FILES,
    "no data": Hand.FILES,
    "not plated": Hand.REPLATE,
    "constant channel": Hand.CLIP,
    "no anchor": Hand.NAME_ANCHOR,
    "anchor not seen": Hand.ANCHOR,
    "data end": Hand.LOG_END,
    "stop without a reason": Hand.LOG_STOP,
    "bench log time": Hand.LOG,
    "plating not logged": Hand.LOG,
    "plating charge": Hand.LOG,
    "factor in the build sheet": Hand.SHEET,
    "plausibility of the build": Hand.SHEET,
    "time of spectra": Hand.SPECTRA_TIME,
}
"""What a caution needs by its check; any other asks for belief, not for a hand."""

HIDDEN_BY_LEADS = (Hand.CLIP, Hand.ANCHOR, Hand.NAME_ANCHOR, Hand.REPLATE)
"""What follows from leads at the wrong place, and goes with them."""


def hand_of(check: str, severity: str, *, file: str = "") -> Hand | None:
    """What a finding needs of a person; None where nothing.

    Parameters
    ----------
    check, severity : str
        As the finding has them.
    file : str
        Raw file that it is about; empty where there is none.
    """
    if severity == "fault":
        return OF_A_FAULT.get(check, Hand.READ if file else Hand.LOOK)
    return OF_A_CAUTION.get(check) if severity == "caution" else None
