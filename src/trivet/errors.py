"""What goes wrong before any work: problems of the input, all reported at once."""

from __future__ import annotations

import difflib
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NoReturn

EXIT_INPUT = 2
"""Exit status of every command that refuses its input."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong with the input.

    Attributes
    ----------
    file : str
        The file as the user would name it.
    message : str
        What is wrong, with the value and the limit.
    line : int or None
        Line in the file, counted from 1; None where the whole file is meant.
    hint : str
        What to do about it; empty where the message says it all.
    """

    file: str
    message: str
    line: int | None = None
    hint: str = ""

    def __str__(self) -> str:
        """One line: place, message, hint; nothing in it steers a terminal."""
        place = self.file if self.line is None else f"{self.file}, line {self.line}"
        return printable(f"{place}: {self.message}" + (f" {self.hint}" if self.hint else ""))


class InputError(Exception):
    """The input can't be used; carries every problem found.

    Parameters
    ----------
    problems : iterable of Problem
        At least one.
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(report_problems(self.problems))


class CannotWriteError(Exception):
    """A file can't be written: no room, or no right.

    Parameters
    ----------
    problem : Problem
        Which file, why, what is needed and free, what to do.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        super().__init__(str(problem))


def end_told(error: InputError | CannotWriteError) -> NoReturn:
    """Print what is wrong or missing, and end.

    Raises
    ------
    SystemExit
        With status 2.
    """
    sys.stderr.write(f"{error}\n")
    raise SystemExit(EXIT_INPUT) from None


def report_problems(problems: Iterable[Problem]) -> str:
    """List problems for a person, one a line, in order of file and line."""
    ordered = sorted(problems, key=lambda problem: (problem.file, problem.line or 0))
    count = f"{len(ordered)} problem{'s' if len(ordered) != 1 else ''} in the input"
    return "\n".join([f"{count}; nothing was run:", *(f"  {problem}" for problem in ordered)])


def near_name(word: str, known: Iterable[str]) -> str:
    """Sentence that proposes the nearest known name, or lists the names when none is near."""
    names = list(known)
    proposal = if_near(word, names)
    return proposal or (f"Known here: {', '.join(names)}." if names else "")


def if_near(word: str, known: Iterable[str]) -> str:
    """Sentence that proposes the nearest known name; empty where none is near."""
    close = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f"Did you mean '{close[0]}'?" if close else ""


def printable(text: str) -> str:
    """Text with signs that steer a terminal shown as their codes."""
    return "".join(sign if sign.isprintable() else repr(sign)[1:-1] for sign in text)
