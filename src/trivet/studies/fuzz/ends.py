"""How damaged inputs end: each by itself, in a limited time, and counted."""

from __future__ import annotations

import signal
import sys
import traceback
from collections import Counter
from collections.abc import Callable, Sequence
from types import FrameType
from typing import TypeVar

import numpy as np

LONGEST_S = 20
Thing = TypeVar("Thing")
One = Callable[[int, np.random.Generator], str]
"""Damages the input of a number and says how it ended."""


class HangError(Exception):
    """No end in time; no error of the system, for which a file would be set aside."""


def _too_long(signum: int, frame: FrameType | None) -> None:
    """Turn a hang into an error."""
    raise HangError(f"no end after {LONGEST_S} s")


def asked(argv: Sequence[str] | None, usual: int) -> tuple[int, int]:
    """How many inputs, and the seed of all choices, from the arguments of a command.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program; None: those of this process.
    usual : int
        How many where nothing is said.
    """
    given = sys.argv[1:] if argv is None else argv
    return int(given[0]) if given else usual, int(given[1]) if len(given) > 1 else 1


def some_of(count: int, random: np.random.Generator) -> slice:
    """Some in a row of so many, perhaps none."""
    start, stop = sorted(random.integers(0, count + 1, 2).tolist())
    return slice(start, stop)


def one_of(things: Sequence[Thing], random: np.random.Generator) -> Thing:
    """Any of some things."""
    return things[int(random.integers(0, len(things)))]


def counted(one: One, *, count: int, seed: int, what: str) -> int:
    """Damage one input after the other, print one line; 1 where any came to another end.

    Parameters
    ----------
    one : callable
        Damages the input of a number, works on it and says how that ended; raises what must not
        be.
    count, seed : int
        How many, and the seed of all choices.
    what : str
        What they are, in the plural.
    """
    random = np.random.default_rng(seed)
    signal.signal(signal.SIGALRM, _too_long)
    ends: Counter[str] = Counter()
    for number in range(count):
        signal.alarm(LONGEST_S)
        try:
            ends[one(number, random)] += 1
        except Exception as error:  # noqa: BLE001 (whatever it is, it is counted)
            sys.stderr.write(f"number {number}: {error}\n{traceback.format_exc()}")
            ends[f"wrong ({type(error).__name__})"] += 1
        finally:
            signal.alarm(0)
    bad = sum(ends[end] for end in ends if end.startswith("wrong"))
    listed = ", ".join(f"{end} {ends[end]}" for end in sorted(ends))
    sys.stdout.write(f"{count} damaged {what}: {listed}; {bad} came to another end\n")
    return int(bad > 0)
