"""Words that decide something, as enums: the lowest room, which everything may use.

Sentences are made from them and never read back.
"""

from __future__ import annotations

from enum import StrEnum


class Trust(StrEnum):
    """What is known of a reference at a time, from best to worst."""

    TRUSTED = "trusted"
    SUSPECT = "suspect"
    UNKNOWN = "unknown"
    NOT_PLATED = "not plated"
    LOST = "lost"


class Purpose(StrEnum):
    """What a number needs of the reference."""

    ABSOLUTE = "absolute potential"
    DIFFERENCE = "difference within a cycle"
    SHAPE = "shape"
    IMPEDANCE = "impedance of an electrode"


class Fitness(StrEnum):
    """Whether the reference serves a purpose, from best to worst."""

    FIT = "fit"
    CORRECTED = "corrected"
    NOT_FIT = "not fit"


class FitnessReason(StrEnum):
    """Why a reference serves a purpose or not."""

    ANCHORED = "anchored"
    NOTHING_AGAINST = "nothing against it"
    BRACKETED = "between two anchors"
    NO_ANCHOR = "no anchor"
    NO_LITHIUM = "no lithium on the wire"
    LEADS = "leads"
    CONTACT = "contact fault"
    NOT_PLATED = "not plated"


class Hand(StrEnum):
    """What a hand is needed for, the most urgent first; the value is how a list of tasks says it.

    `{cells}` stands for the cells.
    """

    EXCHANGE = (
        "Check whether the leads of positive and negative are exchanged: {cells}. If they are, put "
        "the line that the findings below give into the bench log: all rows are then right"
    )
    TURN = "Check the channel for a lead the wrong way round: {cells}"
    FILES = "Look for the raw files: {cells}"
    READ = "Look into the raw files, parts of which were not used: {cells}"
    REPLATE = "Plate the reference anew: {cells}"
    TOUCH = "Look for a reference that touches an electrode: {cells}"
    CLIP = "Check the clips and contacts: {cells}"
    NAME_ANCHOR = (
        "Name a known potential in the settings (reference.anchor), against which the reference "
        "can be checked: {cells}"
    )
    ANCHOR = "Add a rest at which the reference can be checked: {cells}"
    LOG_END = "Write into the bench log why the data end: {cells}"
    LOG_STOP = "Write into the bench log, as its `reason`, why they were stopped: {cells}"
    LOG = "Put the bench log right: {cells}"
    SHEET = "Put the build sheet right: {cells}"
    SPECTRA_TIME = "Give the spectra a time or a cycle: {cells}"
    LOOK = "Look at the findings: {cells}"


class AnchorKind(StrEnum):
    """Potentials that a reference may be held against."""

    POSITIVE_PLATEAU = "positive rest plateau"
    GRAPHITE_PLATEAU = "graphite plateau"
    NEGATIVE_REST = "negative rest"
    NONE = "none"


class Beginning(StrEnum):
    """How it is known that the first half-cycle of a record was seen from its beginning."""

    SEEN = "a row without current before it"
    AT_LIMIT = "it starts at a voltage limit"
    FRESH = "no time before it in which current could have flowed"
    AS_LATER = "it starts where later charges start"
    NOT_KNOWN = "not known"


class StepKind(StrEnum):
    """Where in its half-cycle the current steps."""

    BEGINNING = "beginning"
    WITHIN = "within"
    END = "end"


class RateReason(StrEnum):
    """Why a rate is not compared with the lowest rate of its test."""

    LOWEST = "it is the lowest rate"
    TEMPERATURE = "its temperature is another"
    CHARGED_OTHERWISE = "its charge before ran at another current without a hold"
    NO_ELECTRODES = "the potentials of the electrodes were not measured"
    REFERENCE = "the reference does not serve for differences"
    LITTLE_CHARGE = "too little charge passed"


class ResistanceBasis(StrEnum):
    """What a resistance of the second pass comes from."""

    SECOND_PASS = "second pass"
    HELD_AT_BOUND = "second pass, exponent held at its bound"
    FIRST_PASS = "first pass"


class StopReason(StrEnum):
    """Why the observation of a cell that had not ended was stopped."""

    PLANNED = "planned"
    CHANNEL_NEEDED = "channel needed"
    EQUIPMENT = "equipment"
    LOOKED_BAD = "looked bad"
    NOT_STATED = "not stated"
    """A person stopped it and did not say why."""
    NOT_EXPLAINED = "not explained"
    """Its data end long before the data cut, and no entry says why."""
    NONE = ""


STATED_REASONS = (
    StopReason.PLANNED,
    StopReason.CHANNEL_NEEDED,
    StopReason.EQUIPMENT,
    StopReason.LOOKED_BAD,
)
"""Reasons that a person may write in the bench log."""
ORDINARY_STOPS = (StopReason.PLANNED, StopReason.CHANNEL_NEEDED, StopReason.EQUIPMENT)
"""Reasons that do not lie in the cell: such a life is censored like any other."""
BOUNDED_STOPS = (StopReason.NOT_STATED, StopReason.NOT_EXPLAINED)
"""Stops of which nothing is known: the verdict must hold whatever became of the cell."""


class Censored(StrEnum):
    """Why an end was not seen."""

    RUNNING = "running"
    STOPPED = "stopped by a person"
    REMOVED = "removed"
    PAUSED = "paused"
    NO_DATA = "no data"
    UNEXPLAINED = "data end, not explained"
    NO_TIMES = "no times"
    ENDED_FIRST = "cell ended first"
    NO_CHECK = "no check possible"
    NOT_STATED = "not stated"


class Judged(StrEnum):
    """Measures of a contrast that the report looks up by name."""

    EXACT = "exact log-rank"
    IMPUTED = "imputation-permutation log-rank"
    GROUP_ENDED = "bound: group's stopped cells ended, control's never"
    CONTROL_ENDED = "bound: control's stopped cells ended, group's never"
    LOOKED_BAD = "sensitivity: cells that looked bad ended when stopped"
    TIME_RATIO = "time ratio"
    HAZARD_RATIO = "hazard ratio"


TURNING = (Judged.IMPUTED, Judged.GROUP_ENDED, Judged.CONTROL_ENDED, Judged.LOOKED_BAD)
"""Measures that may turn a verdict."""


def of_cause(cause: str) -> str:
    """Name of the measure that tests a single cause."""
    return f"Gray: {cause}"


class AtLooks(StrEnum):
    """What weekly looks have to say of a contrast."""

    SHOWN = "shown"
    TURNED_ROUND = "the opposite was shown"
    HELD = "crossed, but something stood against it"
    HELD_BY_STOPS = "crossed, but not whatever became of stopped cells"
    HELD_BY_BAD = "crossed, but not with cells that looked bad taken as ended"
    WAITS = "not at the level of the looks"


class Pooled(StrEnum):
    """Rows of the table of pooled contrasts that are no earlier campaign."""

    THIS = "this campaign"
    ALL = "all campaigns"


class Planned(StrEnum):
    """What a row of the table of planning is for."""

    AT_HAND = "difference, cells at hand"
    DIFFERENCE = "difference, cells planned"
    EQUIVALENCE = "equivalence, cells planned"
    DIFFERENCE_NEEDED = "cells needed for the difference"
    EQUIVALENCE_NEEDED = "cells needed for equivalence"


class Kept(StrEnum):
    """What people keep, and a report rests on."""

    SETTINGS = "settings"
    SHEET = "build sheet"
    LOG = "bench log"


class Step(StrEnum):
    """What became of something that people keep."""

    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"


class Seen(StrEnum):
    """What had been reported when something was decided otherwise."""

    VERDICT = "verdict reported"
    END = "end reported"


class Direction(StrEnum):
    """How lives go along the order of a factor."""

    LONGER = "longer"
    SHORTER = "shorter"
    LEVEL = "level"
