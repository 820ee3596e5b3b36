"""The line above the header of an unknown file that states when the file was begun."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from trivet.rawfiles.proposal.dates import DATE, date_format
from trivet.rawfiles.proposal.text import TextGuess

_DATED = re.compile(rf"(?<![0-9.:/-])(?:{DATE.pattern})")
_BEGUN = re.compile(
    r"start|beg[ai]n|messzeit|gemessen|measured|acquired|recorded|d[ée]but|inicio|in[íi]cio",
    re.IGNORECASE,
)
_OTHERWISE = re.compile(
    r"export|print|gedruckt|saved|gespeichert|erstellt|created|calibr|kalibr|\bend|finish|stop",
    re.IGNORECASE,
)
"""Words of lines with a time; common practice, no source."""
_AROUND = " \t;,=|\"'"


@dataclass(frozen=True)
class StartGuess:
    """The line, as settings of a layout.

    Attributes
    ----------
    words, format : str
        What the line begins with, and how its time is written.
    evidence : str
        The line, and what shows the order of day and month.
    question : str
        What can't be told; empty where all is clear.
    """

    words: str
    format: str
    evidence: str
    question: str = ""


def guess_start(guess: TextGuess, others: Sequence[TextGuess] = ()) -> StartGuess | None:
    """Find the line that states when a file was begun.

    Parameters
    ----------
    guess : TextGuess
        The file.
    others : sequence of TextGuess
        Files that are laid out alike, whose dates may tell day from month.

    Returns
    -------
    StartGuess or None
        None where no line above the header has a date with a time of day.
    """
    lines = [line for line in _dated(guess) if not _OTHERWISE.search(line[1])]
    named = [line for line in lines if _BEGUN.search(line[1])]
    chosen = named or lines
    if not chosen:
        return None
    number, words, value = chosen[0]
    again = [text for other in others for _, label, text in _dated(other) if label == words]
    form, why, question = date_format([value, *again])
    evidence = f"line {number}: '{words} {value}'; {why}"
    if not question and (len(chosen) > 1 or not named):
        listed = ", ".join(f"'{label} {text}'" for _, label, text in chosen[:3])
        question = (
            f"start: is one of {listed}, which stand above the header, when the file was begun? "
            "Declare what its line begins with as 'start_line', or leave that out."
        )
    return StartGuess(words, form, evidence, question)


def _dated(guess: TextGuess) -> list[tuple[int, str, str]]:
    """Lines above the header with a date and a time of day: number, words before it, the time."""
    head = guess.text.head().decode("utf-8", "replace").split("\n")[: guess.header_line - 1]
    found = []
    for number, line in enumerate(head, start=1):
        match = _DATED.search(line.lstrip("\ufeff"))
        if match and match.group(6):
            words = line.lstrip("\ufeff")[: match.start()].strip(_AROUND)
            if words:
                found.append((number, words, match.group()))
    return found
