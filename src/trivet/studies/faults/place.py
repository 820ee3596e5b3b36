"""A campaign for one fault: where it lies, how it is run, what must come of it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import read_table
from trivet.studies import kills
from trivet.studies.kills import ISSUED

LONGEST_S = 240.0
"""A run that takes longer hangs [s]; in peace it takes a tenth."""


class Skipped(Exception):  # noqa: N818 (no error: the machine can't do it)
    """A fault that can't be made here; its text says why."""


@dataclass(frozen=True)
class Ended:
    """How a run ended.

    Attributes
    ----------
    status : int or None
        Exit status; None where it hung and was killed.
    said : str
        What it printed, with what its jobs printed.
    """

    status: int | None
    said: str

    @property
    def clean(self) -> bool:
        """Whether it ended by itself, and no fault of the program was printed."""
        return self.status is not None and "Traceback" not in self.said


@dataclass
class Place:
    """A campaign and a working folder for one fault.

    Attributes
    ----------
    campaign, work : Path
        Copies of their own.
    peace : dict of str to str
        Checksums of the results of the run left in peace.
    surroundings : dict of str to str
        Variables set for the run.
    user : int or None
        User that it runs as.
    before : tuple of str
        Words in front of its command.
    """

    campaign: Path
    work: Path
    peace: dict[str, str]
    surroundings: dict[str, str] = field(default_factory=dict)
    user: int | None = None
    before: tuple[str, ...] = ()

    @property
    def reports(self) -> Path:
        """Where the results go."""
        return self.work / "reports"

    def raw(self, pattern: str) -> Path:
        """The first raw file of this name, by its path below the raw folder."""
        return sorted(self.campaign.glob(f"raw/{pattern}"))[0]

    def run(self, meanwhile: Callable[[], None] | None = None) -> Ended:
        """Run the campaign; something may happen meanwhile."""
        command = [*self.before, sys.executable, "-m", "trivet.cli.main", "run", str(self.campaign)]
        started = subprocess.Popen(
            command,
            cwd=self.work,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            user=self.user,
            env={**os.environ, "SOURCE_DATE_EPOCH": ISSUED, **self.surroundings},
        )
        if meanwhile is not None:
            threading.Thread(target=meanwhile, daemon=True).start()
        try:
            said = started.communicate(timeout=LONGEST_S)[0].decode(errors="replace")
        except subprocess.TimeoutExpired:
            os.killpg(started.pid, signal.SIGKILL)
            started.communicate()
            return Ended(None, "")
        logs = [path.read_text(errors="replace") for path in self.reports.glob("*/logs/*.log")]
        return Ended(started.returncode, said + "".join(logs))

    def rows(self, table: str) -> list[dict[str, Any]]:
        """Rows of a table of the results."""
        path = self.reports / "demo" / "tables" / f"{table}.parquet"
        rows: list[dict[str, Any]] = read_table(TABLES[table], path).to_pylist()
        return rows


@contextmanager
def small_disk(at: Path, options: str) -> Iterator[None]:
    """A disk in memory at a folder, gone afterwards.

    Parameters
    ----------
    at : Path
        The folder, made where it is missing.
    options : str
        As `mount` takes them, such as `size=4m`.

    Raises
    ------
    Skipped
        It can't be mounted here.
    """
    at.mkdir(parents=True, exist_ok=True)
    mount("-t", "tmpfs", "-o", options, "tmpfs", str(at))
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", str(at)], check=False)


def mount(*arguments: str) -> None:
    """Mount, or say why that can't be done here."""
    if os.geteuid() != 0:
        raise Skipped("only root may mount a disk")
    done = subprocess.run(["mount", *arguments], capture_output=True, text=True, check=False)
    if done.returncode:
        raise Skipped(done.stderr.strip() or "mount failed")


def last_words(ended: Ended) -> str:
    """What was printed last, as the reason why an end is a bad one."""
    if ended.status is None:
        return "it hung"
    return f"status {ended.status}: {' | '.join(ended.said.splitlines()[-12:])}"


def told(ended: Ended, *words: str) -> str:
    """Empty where a run ended with a message that holds one of the last words, and no traceback."""
    said = any(word in ended.said for word in words)
    return "" if ended.clean and ended.status != 0 and said else last_words(ended)


def fine(ended: Ended) -> str:
    """Empty where a run ended well."""
    return "" if ended.clean and ended.status == 0 else last_words(ended)


def again(place: Place) -> str:
    """The same command with the fault gone: empty where it ends in the bytes of peace."""
    return fine(place.run()) or unlike(place)


def unlike(place: Place) -> str:
    """Empty where results are those of the run left in peace."""
    other = kills.unlike(place.work, place.peace)
    return f"other bytes: {', '.join(other[:5])}" if other else ""


def named(place: Place, path: Path) -> str:
    """Empty where a finding names the file."""
    name = path.relative_to(place.campaign).as_posix()
    texts = [f"{row['file']} {row['message']}" for row in place.rows("findings")]
    return "" if any(name in text for text in texts) else f"no finding names {name}"
