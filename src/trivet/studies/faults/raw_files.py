"""Pipes, devices, links, giants, odd names, files that go or grow: among the raw files."""

from __future__ import annotations

import os
import time
import unicodedata
from collections.abc import Callable
from pathlib import Path

from trivet.studies.faults.place import Place, fine, last_words, named, told


def _odd(make: Callable[[Path], None]) -> Callable[[Place], str]:
    """A fault that puts something else in the place of a raw file: a finding names it."""

    def fault(place: Place) -> str:
        path = place.raw("cycling-*/c01*")
        path.unlink()
        make(path)
        return fine(place.run()) or named(place, path)

    return fault


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def _circle(path: Path) -> None:
    path.symlink_to(path.name)


def _nowhere(path: Path) -> None:
    path.symlink_to("nowhere")


def _giant(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(5 * 2**30)


def folder(place: Place) -> str:
    """A folder in the place of a raw file is none: the cell is told to be without data."""
    path = place.raw("cycling-*/c01*")
    path.unlink()
    path.mkdir()
    wrong = fine(place.run())
    told = [row for row in place.rows("findings") if row["cell"] == "c01"] if not wrong else []
    return wrong or ("" if told else "no finding is about the cell")


def vanishing(place: Place) -> str:
    """A raw file goes once the run has begun to look at it."""
    path = place.raw("cycling-*/c01*")
    ended = place.run(meanwhile=lambda: _when_begun(place, path.unlink))
    return fine(ended) or named(place, path)


def growing(place: Place) -> str:
    """A raw file gets further rows in mid-run: the archive stops; the next run has them."""
    path = place.raw("cycling-*/c10*")
    more = path.read_bytes().splitlines(keepends=True)[-1]

    def grow() -> None:
        with path.open("ab") as file:
            file.write(more)

    ended = place.run(meanwhile=lambda: _when_begun(place, grow, later_s=6.0))
    if ended.status == 0:
        return "" if ended.clean else last_words(ended)
    return told(ended, "has changed since this run read it") or fine(place.run())


def odd_names(place: Place) -> str:
    """A name with quotes, braces, a newline and letters of two signs: its rows are read."""
    path = place.raw("cycling-*/c01*")
    odd = path.with_name(unicodedata.normalize("NFD", "c01 'q\" {cell} ü \n$(x);.csv"))
    path.rename(odd)
    settings = place.campaign / "campaign.yaml"
    text = settings.read_text(encoding="utf-8")
    folder = f"{path.parent.name}/{{cell}}"
    settings.write_text(text.replace(f"{folder}.csv", f"{folder}{{any}}"), encoding="utf-8")
    wrong = fine(place.run())
    name = odd.relative_to(place.campaign).as_posix()
    used = {row["file"]: row["rows_used"] for row in place.rows("ledger")} if not wrong else {}
    return wrong or ("" if used.get(name) else f"no row of {name!r} was used")


def _when_begun(place: Place, act: Callable[[], None], later_s: float = 0.0) -> None:
    """Do something once the run has written the files of its jobs."""
    begun = place.reports / "demo" / "jobs" / "read-c01.json"
    for _ in range(600):
        if begun.exists():
            break
        time.sleep(0.05)
    time.sleep(later_s)
    act()


RAW_FILES: dict[str, Callable[[Place], str]] = {
    "pipe among raw files": _odd(_pipe),
    "endless device among raw files": _odd(_device),
    "link to itself among raw files": _odd(_circle),
    "link to nowhere among raw files": _odd(_nowhere),
    "5 GB of nothing among raw files": _odd(_giant),
    "folder with the name of a raw file": folder,
    "raw file that vanishes in mid-run": vanishing,
    "raw file that grows in mid-run": growing,
    "raw file with every sign in its name": odd_names,
}
"""Faults by name; each gives what was wrong with the end, empty for nothing."""
