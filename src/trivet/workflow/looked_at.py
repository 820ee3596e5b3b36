"""What a look at a file gave, kept between runs while size, times and inode of the file stand."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from trivet.store.checksums import sha256
from trivet.workflow.job_files import write_if_other

_SETTLED_S = 2.0
"""Age of a file's last change from which its times tell whether it has changed since [s]: clocks of
file systems tick as coarsely as this."""


class LookedAt:
    """What was found in files, looked into again only where size, times or inode have moved.

    Parameters
    ----------
    kept : Path or None
        File that keeps what was found between runs; none keeps it for this run only.
    look : callable
        What to find in a file, as JSON can hold it; raises OSError where the file can't be read.
    """

    def __init__(self, kept: Path | None, look: Callable[[Path], Any]) -> None:
        self._file = kept
        self._look = look
        self._known = {} if kept is None else _known(kept)
        self._now: dict[str, list[Any]] = {}

    def of(self, path: Path, name: str) -> Any:  # noqa: ANN401 (what `look` gives)
        """What stands in a file.

        Parameters
        ----------
        path : Path
            The file.
        name : str
            Its name below the folder that all of them lie in.

        Raises
        ------
        OSError
            It can't be read.
        """
        if name not in self._now:
            state = path.stat()
            marks = [state.st_size, state.st_mtime_ns, state.st_ctime_ns, state.st_ino]
            known = self._known.get(name)
            stands = known is not None and known[:-1] == marks
            self._now[name] = known if known and stands else [*marks, self._look(path)]
        return self._now[name][-1]

    def keep(self) -> None:
        """Write down what was found in files that have not changed within the last moments."""
        if self._file is None:
            return
        settled_ns = time.time_ns() - int(_SETTLED_S * 1e9)
        kept = {
            name: marks
            for name, marks in self._now.items()
            if max(marks[1], marks[2]) < settled_ns and marks[-1]
        }
        write_if_other(self._file, json.dumps(kept, sort_keys=True).encode())


class Checksums(LookedAt):
    """Checksums of raw files.

    Parameters
    ----------
    kept : Path
        File that keeps them between runs.
    """

    def __init__(self, kept: Path) -> None:
        super().__init__(kept, sha256)

    def of(self, path: Path, name: str) -> str:
        """Checksum of a file; empty where it can't be read."""
        try:
            return str(super().of(path, name))
        except OSError:
            return ""


def _known(kept: Path) -> dict[str, list[Any]]:
    """What an earlier run found; nothing where there was none or its file is damaged."""
    try:
        given = json.loads(kept.read_bytes())
    except (OSError, ValueError):
        return {}
    if not isinstance(given, dict):
        return {}
    return {name: marks for name, marks in given.items() if isinstance(marks, list) and marks}
