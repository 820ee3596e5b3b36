"""What is at work while a campaign runs, and about how long it will take; shown, never stored."""

from __future__ import annotations

import logging
import sys
import time
from collections.abc import Collection
from typing import Any

_LOGGER = "snakemake.logging"


class Progress(logging.Handler):
    """Say after each job what is at work and how long the rest takes at the mean time of a job."""

    def __init__(self) -> None:
        super().__init__(logging.INFO)
        self._started_s: float | None = None
        self._at_work: dict[int, str] = {}

    def emit(self, record: logging.LogRecord) -> None:
        """Follow the jobs that start and end."""
        said: dict[str, Any] = vars(record)
        event = str(getattr(said.get("event"), "value", ""))
        if event == "job_info":
            if self._started_s is None:
                self._started_s = time.monotonic()
            cell = dict(said["wildcards"]).get("cell", "")
            self._at_work[int(said["jobid"])] = f"{said['rule_name']} {cell}".strip()
        elif event == "job_finished":
            self._at_work.pop(int(said["job_id"]), None)
        elif event == "progress":
            self._say(int(said["done"]), int(said["total"]))

    def _say(self, done: int, total: int) -> None:
        """One line, where something is left to do."""
        if self._started_s is None or not 0 < done < total:
            return
        left_s = (time.monotonic() - self._started_s) / done * (total - done)
        minutes, seconds = divmod(round(left_s), 60)
        left = f"{minutes} min {seconds} s" if minutes else f"{seconds} s"
        at_work = f"; at work: {', '.join(self._at_work.values())}" if self._at_work else ""
        sys.stderr.write(f"about {left} left{at_work}\n")


def watch(quiet: Collection[Any] | None) -> None:
    """Show the progress of a run, unless it was asked to be quiet about that.

    Parameters
    ----------
    quiet : collection or None
        What Snakemake was told to be quiet about.
    """
    logger = logging.getLogger(_LOGGER)
    for handler in [one for one in logger.handlers if isinstance(one, Progress)]:
        logger.removeHandler(handler)
    if not {str(getattr(kind, "name", kind)).lower() for kind in quiet or ()} & {
        "all",
        "progress",
    }:
        logger.addHandler(Progress())
