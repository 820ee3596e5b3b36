"""How damaged inputs end: each by itself, in a limited time, and counted."""

from __future__ import annotations

import signal
import sys
import traceback
from collections import Counter
from collections.abc import Callable
from types import FrameType

import numpy as np

LONGEST_S = 30
One = Callable[[int, np.random.Generator], str]
"""Damages the input of a number and says how it ended."""


def _too_long(signum: int, frame: FrameType | None) -> None:
    """Turn a hang into an error."""
    raise TimeoutError(f"no end after {LONGEST_S} s")


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
        except (Exception, TimeoutError) as error:  # noqa: BLE001 (whatever it is, it is counted)
            sys.stderr.write(f"number {number}: {error}\n{traceback.format_exc()}")
            ends[f"wrong ({type(error).__name__})"] += 1
        finally:
            signal.alarm(0)
    bad = sum(ends[end] for end in ends if end.startswith("wrong"))
    listed = ", ".join(f"{end} {ends[end]}" for end in sorted(ends))
    sys.stdout.write(f"{count} damaged {what}: {listed}; {bad} came to another end\n")
    return int(bad > 0)
