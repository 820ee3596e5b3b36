"""What is at work while a campaign runs, and about how long it will take; shown, never stored."""

from __future__ import annotations

import logging
import sys
import time
from collections.abc import Collection
from typing import Any

_LOGGER = "snakemake.logging"
_STEP_PERCENT = 10


class Progress(logging.Handler):
    """Say after each job what is at work and how long the rest takes at the mean time of a job."""

    def __init__(self) -> None:
        super().__init__(logging.INFO)
        self._started_s: float | None = None
        self._at_work: dict[int, str] = {}
        self._said_percent = 0

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
        """One line for every tenth of the way, where something is left to do."""
        if self._started_s is None or not 0 < done < total:
            return
        percent = 100 * done // total
        if percent < self._said_percent + _STEP_PERCENT:
            return
        self._said_percent = percent - percent % _STEP_PERCENT
        left_s = (time.monotonic() - self._started_s) / done * (total - done)
        minutes, seconds = divmod(round(left_s), 60)
        left = f"{minutes} min {seconds} s" if minutes else f"{seconds} s"
        at_work = f"; at work: {', '.join(self._at_work.values())}" if self._at_work else ""
        sys.stderr.write(f"{percent} % done, about {left} left{at_work}\n")


class _Trouble(logging.Filter):
    """Lets through what needs a hand, and none of the account of every job."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Warnings and errors only."""
        return record.levelno >= logging.WARNING


def watch(quiet: Collection[Any] | None) -> None:
    """Show the progress of a run in a few lines, unless it was asked to be quiet about everything.

    Parameters
    ----------
    quiet : collection or None
        What Snakemake was told to be quiet about. Where that is the machine, as the shipped profile
        says, its account of every job goes too: the lines here stand instead. (Told to be quiet
        about progress, it would not even count.)
    """
    silent = {str(getattr(kind, "name", kind)).lower() for kind in quiet or ()}
    logger = logging.getLogger(_LOGGER)
    for handler in list(logger.handlers):
        if isinstance(handler, Progress):
            logger.removeHandler(handler)
        elif "host" in silent:
            handler.addFilter(_Trouble())
    if "all" not in silent:
        logger.addHandler(Progress())
