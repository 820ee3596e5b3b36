"""What went wrong in a run, in a few lines: what each failed job said, and a disk that is full."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from trivet.errors import printable
from trivet.store.room import free, is_full

_TOLD = 6
"""Failed jobs whose words are printed; the others are counted."""
_LONGEST = 500
"""Signs of what a job said that are printed."""


def print_failures(results: Path, *, since_s: float) -> None:
    """Write what failed in a run to the error stream.

    Parameters
    ----------
    results : Path
        Folder with the results of the campaign.
    since_s : float
        When the run began, seconds since 1970 [s].
    """
    for line in failures(results, since_s=since_s):
        sys.stderr.write(f"{line}\n")


def failures(results: Path, *, since_s: float) -> Iterator[str]:
    """Lines that say what failed.

    Parameters
    ----------
    results, since_s
        As for `print_failures`.
    """
    said = [
        (path, text)
        for path in sorted((results / "logs").glob("*.log"))
        if path.stat().st_mtime >= since_s - 1.0
        and (text := path.read_text(encoding="utf-8", errors="replace").strip())
    ]
    if said or is_full(results):
        yield "The run did not come to its end."
    for path, text in said[:_TOLD]:
        last = printable(text.splitlines()[-1])[:_LONGEST]
        more = f" (all of it: {path})" if "\n" in text else ""
        yield f"  {path.stem}: {last}{more}"
    if len(said) > _TOLD:
        yield f"  {len(said) - _TOLD} more in {results / 'logs'}"
    if is_full(results):
        yield (
            f"  {results}: the disk is full; {free(results)}. Make room, then give the same "
            "command again: it goes on where this run ended."
        )
