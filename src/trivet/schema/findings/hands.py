"""What a person has to do about a finding: by its check, never by its sentence."""

from __future__ import annotations

from enum import StrEnum


class Hand(StrEnum):
    """What a hand is needed for, the most urgent first; the value is how a list of tasks says it.

    `{cells}` stands for the cells.
    """

    EXCHANGE = (
        "Check whether the leads of positive and negative are exchanged: {cells}. If they are, the "
        "line of the bench log that its finding gives puts right all rows"
    )
    TURN = "Check the channel for a lead the wrong way round: {cells}"
    FILES = "Look for the raw files: {cells}"
    READ = "Look into the raw files, parts of which were not used: {cells}"
    REPLATE = "Plate the reference anew: {cells}"
    TOUCH = "Look for a reference that touches an electrode: {cells}"
    CLIP = "Check the clips and contacts: {cells}"
    ANCHOR = "Add a rest at which the reference can be checked: {cells}"
    LOG_END = "Write into the bench log why the data end: {cells}"
    LOG = "Put the bench log right: {cells}"
    SHEET = "Put the build sheet right: {cells}"
    SPECTRA_TIME = "Give the spectra a time or a cycle: {cells}"
    LOOK = "Look at the findings: {cells}"


AT_THE_CELL = (Hand.REPLATE, Hand.TOUCH, Hand.CLIP, Hand.ANCHOR)
"""What can only be done while the cell is running."""

OF_A_FAULT: dict[str, Hand] = {
    "swapped leads": Hand.EXCHANGE,
    "reversed lead": Hand.TURN,
    "no data": Hand.FILES,
    "offset of the reference": Hand.REPLATE,
    "drift of the reference": Hand.REPLATE,
    "drift of the reference by features": Hand.REPLATE,
    "common-mode jump": Hand.REPLATE,
    "plated charge left": Hand.REPLATE,
    "closure": Hand.CLIP,
    "noise at rest": Hand.CLIP,
    "soft short of the reference": Hand.TOUCH,
    "factor in the build sheet": Hand.SHEET,
}
"""What a fault needs by its check."""

OF_A_CAUTION: dict[str, Hand] = {
    "polarity": Hand.TURN,
    "unreachable folder": Hand.FILES,
    "no data": Hand.FILES,
    "not plated": Hand.REPLATE,
    "soft short of the reference": Hand.TOUCH,
    "closure": Hand.CLIP,
    "noise at rest": Hand.CLIP,
    "constant channel": Hand.CLIP,
    "no anchor": Hand.ANCHOR,
    "data end": Hand.LOG_END,
    "bench log time": Hand.LOG,
    "plating not logged": Hand.LOG,
    "plating charge": Hand.LOG,
    "factor in the build sheet": Hand.SHEET,
    "plausibility of the build": Hand.SHEET,
    "time of spectra": Hand.SPECTRA_TIME,
}
"""What a caution needs by its check; any other asks for belief, not for a hand."""

HIDDEN_BY_LEADS = (Hand.CLIP, Hand.ANCHOR, Hand.REPLATE)
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
