"""Words of the tables and the report: what each means. One home, which `trivet explain` prints."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Word:
    """One word.

    Attributes
    ----------
    kind : str
        What sort of word it is.
    meaning : str
        What it means, in a sentence or two.
    """

    kind: str
    meaning: str


def _words(kind: str, meanings: dict[str, str]) -> dict[str, Word]:
    """Words of one kind."""
    return {word: Word(kind, meaning) for word, meaning in meanings.items()}


GLOSSARY: dict[str, Word] = {
    **_words(
        "verdict of a comparison",
        {
            "different": "The exact test, adjusted for all contrasts that are looked at together, "
            "is significant at the level set in the settings.",
            "equivalent": "The interval of the primary effect lies inside the margin set "
            "beforehand. A large p alone is never enough for this word.",
            "inconclusive": "Neither shown: the cells at hand can tell neither a difference nor "
            "equivalence within the margin.",
            "not estimable": "Nothing can be compared, for the reason that stands beside it: a "
            "group in one batch only, no ends, too few cells.",
        },
    ),
    **_words(
        "trust of a reference or spectrum",
        {
            "trusted": "Every check that could be made was passed.",
            "suspect": "A check is beyond its lower limit; the reason stands beside it.",
            "lost": "A reference beyond recovery by the rule of the settings; the end of its life.",
            "unknown": "A reference of which no check could be made in that time.",
            "not plated": "Before the first plating there is no reference.",
            "rejected": "A spectrum beyond a limit that no spectrum of a cell at rest can pass.",
        },
    ),
    **_words(
        "quantity of a layout",
        {
            "current": "The current with its sign, in one column.",
            "charge current": "Current of a charge as a magnitude, where discharge has a column of "
            "its own; the two together are the current, charge positive.",
            "discharge current": "Current of a discharge as a magnitude, or with a minus in front, "
            "where charge has a column of its own.",
        },
    ),
    **_words(
        "placeholder in names of raw files",
        {
            "{cell}": "The id of the cell; where it stands twice, it is the same twice.",
            "{part}": "Files of one cell in order: letters and digits, with hyphens between them.",
            "{pair}": "A word for cell, positive or negative, as 'pair_words' of the layout or "
            "common use has it.",
            "{cycle}": "Number of the cycle, in digits.",
            "{any}": "Anything within the name of a file or folder, such as a date; it is not "
            "used.",
        },
    ),
    **_words(
        "word of the report",
        {
            "campaign": "All cells that answer one question, with their settings and raw files.",
            "variant": "A value of a build factor, such as a way of sealing.",
            "group": "The cells of one variant.",
            "control": "The group that the others are compared with.",
            "batch": "Cells built together; comparisons are made within batches.",
            "block": "A batch of one campaign that holds cells of a group and of its control; "
            "batches of two campaigns are never one block.",
            "earlier campaign": "A campaign that the settings name beside this one, whose blocks "
            "join the contrasts; the verdict stays that of this one alone.",
            "weight": "Share of a campaign in what a pooled test rests on: its part of the "
            "variance of ends seen less expected.",
            "shrunken": "Of an estimate: drawn towards the mean of all campaigns, the more so the "
            "less it is known by itself and the less campaigns differ.",
            "positive": "The positive electrode. Its potential is against the reference.",
            "negative": "The negative electrode. Its potential is against the reference.",
            "reference": "The third electrode: a mesh plated with lithium between the separators.",
            "closure": "Cell voltage less (positive less negative potential): 0 where every "
            "channel is right. It cannot see a bad reference, which cancels.",
            "offset": "Potential of the reference against what an anchor says it should be.",
            "drift": "Change of the offset with time.",
            "anchor": "A state at which an electrode has a known potential, so that the offset "
            "of the reference can be read.",
            "fitness": "Whether a reference serves for a purpose (potential against lithium, "
            "difference within a cycle, shape, impedance) at a time: fit, corrected, not fit.",
            "features": "Steps and plateaus in the curves of slow cycles; what moves those of both "
            "electrodes alike is the reference.",
            "pair": "The two terminals that a spectrum was measured across: cell, positive or "
            "negative against the reference.",
            "endpoint": "What is waited for: the end of a cell, or of its reference.",
            "event": "An end that was seen.",
            "cause": "What ended a cell, as its data show or a person wrote.",
            "censored": "Not seen to end: still running, stopped, removed, or cut by the data cut.",
            "data cut": "The moment up to which data count.",
            "register": "The file register.jsonl beside the report: one line for each report "
            "issued, with what it rested on and what it said, so that the next one can say what "
            "was decided otherwise since.",
            "late decision": "A setting, row of the build sheet or entry of the bench log that "
            "was decided otherwise after the verdict it bears on, or the end of the cell, had been "
            "reported.",
            "covariate": "A number of the build, such as the volume of electrolyte, that is held "
            "beside groups and lives; it decides no verdict.",
            "aliased": "Of a covariate: no value of a group lies in the range of its control, so "
            "that an effect of one can't be told from that of the other.",
            "check-up": "A slow cycle, or a set of spectra, taken to measure and not to age.",
            "finding": "One thing noticed about the data: what, where, value, limit, and what "
            "was done.",
            "fault": "Severity of a finding: a number or a cell is lost or wrong, and a hand is "
            "needed.",
            "caution": "Severity of a finding: believe the number less.",
            "note": "Severity of a finding: done for you, or worth knowing.",
            "retention": "Discharge capacity divided by that of the reference cycle.",
            "withheld": "Measured and kept, and not used, since the reference was not fit for it.",
        },
    ),
}
"""Every word with its kind and meaning."""
