"""Faults of the surroundings and odd things among raw files: a message or a finding, never a hang.

`python -m trivet.studies.faults` makes a campaign of two invented cells, runs it once in peace, and
then once for each fault: disks that fill, folders that can't be written, read-only raw data, pipes,
devices, links that lead in circles, a giant with holes, files that vanish or grow in mid-run, names
of every kind. Full and read-only disks are small ones in memory, mounted for the fault; where that
is not allowed the fault is skipped, with the reason. After a fault of the surroundings the same
command is given again with the fault gone, and must end in the bytes of the run left in peace.
`--only WORDS` runs the faults whose names hold these words.
"""

from __future__ import annotations

import argparse
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from trivet.demo.make import keep_cells
from trivet.demo.make import main as make_demo
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import read_table
from trivet.studies.kills import digests

CELLS = ("c01", "c10")
LONGEST_S = 240.0
"""A run that takes longer hangs [s]; in peace it takes a tenth."""
_NOBODY = 65534
_ISSUED = "1767225600"
"""Time that stands in the register of reports for that of the clock [s]."""


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
    """

    campaign: Path
    work: Path
    peace: dict[str, str]
    surroundings: dict[str, str] = field(default_factory=dict)
    user: int | None = None

    @property
    def reports(self) -> Path:
        """Where the results go."""
        return self.work / "reports"

    def raw(self, pattern: str) -> Path:
        """The first raw file of this name, by its path below the raw folder."""
        return sorted(self.campaign.glob(f"raw/{pattern}"))[0]

    def run(self, meanwhile: Callable[[], None] | None = None) -> Ended:
        """Run the campaign; something may happen meanwhile."""
        command = [sys.executable, "-m", "trivet.cli.main", "run", str(self.campaign)]
        started = subprocess.Popen(
            command,
            cwd=self.work,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            user=self.user,
            env={**os.environ, "SOURCE_DATE_EPOCH": _ISSUED, **self.surroundings},
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

    def is_of_peace(self) -> list[str]:
        """Results that differ from those of the run left in peace."""
        found = digests(self.work)
        names = found.keys() | self.peace.keys()
        return sorted(name for name in names if found.get(name) != self.peace.get(name))

    def findings(self) -> list[str]:
        """Texts of all findings."""
        path = self.reports / "demo" / "tables" / "findings.parquet"
        rows = read_table(TABLES["findings"], path).to_pylist()
        return [f"{row['file']} {row['message']}" for row in rows]


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
    _mount("-t", "tmpfs", "-o", options, "tmpfs", str(at))
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", str(at)], check=False)


def _mount(*arguments: str) -> None:
    """Mount, or say why that can't be done here."""
    if os.geteuid() != 0:
        raise Skipped("only root may mount a disk")
    done = subprocess.run(["mount", *arguments], capture_output=True, text=True, check=False)
    if done.returncode:
        raise Skipped(done.stderr.strip() or "mount failed")


# --- the surroundings ----------------------------------------------------------------------------


def full_disk(place: Place, size: str) -> str:
    """The disk of the results fills in mid-run; then there is room."""
    with small_disk(place.reports, f"size={size}"):
        ended = place.run()
        wrong = _told(ended, str(place.reports.name), "No space left")
        _mount("-o", "remount,size=1g", str(place.reports))
        return wrong or _again(place)


def few_files(place: Place) -> str:
    """The disk of the results takes no more files, though it has room."""
    with small_disk(place.reports, "size=1g,nr_inodes=60"):
        ended = place.run()
        wrong = _told(ended, str(place.reports.name), "No space left")
        _mount("-o", "remount,nr_inodes=100000", str(place.reports))
        return wrong or _again(place)


def largest_file(place: Place) -> str:
    """No file may grow beyond a size, as under a quota; then it may."""
    limited = place.work / "limited.sh"
    limited.write_text('#!/bin/sh\nulimit -f 200\nexec "$@"\n', encoding="utf-8")
    limited.chmod(0o755)
    command = [str(limited), sys.executable, "-m", "trivet.cli.main", "run", str(place.campaign)]
    env = {**os.environ, "SOURCE_DATE_EPOCH": _ISSUED}
    done = subprocess.run(command, cwd=place.work, capture_output=True, text=True, env=env,
                          check=False, timeout=LONGEST_S)  # fmt: skip
    limited.unlink()
    logs = "".join(path.read_text(errors="replace") for path in place.reports.glob("*/logs/*.log"))
    said = done.stdout + done.stderr + logs
    return _told(Ended(done.returncode, said), "File too large") or _again(place)


def read_only_results(place: Place) -> str:
    """The folder of results can't be written; then it can."""
    with small_disk(place.reports, "size=1g"):
        _mount("-o", "remount,ro", str(place.reports))
        ended = place.run()
        wrong = _told(ended, str(place.reports.name), "Read-only file system")
        _mount("-o", "remount,rw", str(place.reports))
        return wrong or _again(place)


def no_rights(place: Place) -> str:
    """Another user has no rights in the folder of results."""
    if os.geteuid() != 0:
        raise Skipped("only root may run as another user")
    probe = [sys.executable, "-c", "import trivet"]
    try:
        subprocess.run(probe, user=_NOBODY, capture_output=True, check=True)
    except (OSError, subprocess.CalledProcessError) as error:
        raise Skipped("another user may not run this Python") from error
    for path in (place.work.parent.parent, place.work.parent):
        path.chmod(0o755)
    place.reports.mkdir()
    place.user = _NOBODY
    wrong = _told(place.run(), str(place.reports.name), "Permission denied")
    place.user = None
    return wrong or _again(place)


def full_temporary_folder(place: Place) -> str:
    """The folder for temporary files is full; then another one is named."""
    spare = place.work / "spare"
    with small_disk(spare, "size=64k"):
        (spare / "ballast").write_bytes(b"0" * 65536)
        place.surroundings["TMPDIR"] = str(spare)
        ended = place.run()
        del place.surroundings["TMPDIR"]
        if ended.clean and ended.status == 0:
            return _unlike(place)
        return _told(ended, "No space left", "No usable temporary directory") or _again(place)


def read_only_campaign(place: Place) -> str:
    """Raw files, settings and sheets can't be written: nothing is missing."""
    _mount("--bind", str(place.campaign), str(place.campaign))
    try:
        _mount("-o", "remount,bind,ro", str(place.campaign))
        ended = place.run()
    finally:
        subprocess.run(["umount", "-l", str(place.campaign)], check=False)
    return _fine(ended) or _unlike(place)


# --- odd things among raw files -------------------------------------------------------------------


def _odd(make: Callable[[Path], None]) -> Callable[[Place], str]:
    """A fault that puts something else in the place of a raw file: a finding names it."""

    def fault(place: Place) -> str:
        path = place.raw("cycling-*/c01*")
        path.unlink()
        make(path)
        return _fine(place.run()) or _named(place, path)

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


def _folder(path: Path) -> None:
    path.mkdir()


def vanishing(place: Place) -> str:
    """A raw file goes once the run has begun to look at it."""
    path = place.raw("cycling-*/c01*")
    ended = place.run(meanwhile=lambda: _when_begun(place, path.unlink))
    return _fine(ended) or _named(place, path)


def growing(place: Place) -> str:
    """A raw file gets further rows in mid-run: the archive stops; the next run has them."""
    path = place.raw("cycling-*/c10*")
    more = path.read_bytes().splitlines(keepends=True)[-1]

    def grow() -> None:
        with path.open("ab") as file:
            file.write(more)

    ended = place.run(meanwhile=lambda: _when_begun(place, grow, later_s=6.0))
    if ended.status == 0:
        return "" if ended.clean else _wrong(ended)
    return _told(ended, "has changed since this run read it") or _fine(place.run())


def odd_names(place: Place) -> str:
    """Names with quotes, newlines, braces and letters of two signs: all are read."""
    folder = place.raw("cycling-*/c01*").parent
    path = place.raw("cycling-*/c01*")
    odd = unicodedata.normalize("NFD", "c01 'q\" {cell} ü \n$(x);.csv")
    path.rename(folder / odd)
    settings = place.campaign / "campaign.yaml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace(f"{folder.name}/{{cell}}.csv", f"{folder.name}/{{cell}}{{}}"),
                        encoding="utf-8")  # fmt: skip
    ended = place.run()
    return "" if ended.clean else _wrong(ended)


def _when_begun(place: Place, act: Callable[[], None], later_s: float = 0.0) -> None:
    """Do something once the run has written the files of its jobs."""
    begun = place.reports / "demo" / "jobs" / "read-c01.json"
    for _ in range(600):
        if begun.exists():
            break
        time.sleep(0.05)
    time.sleep(later_s)
    act()


# --- what must come of it -------------------------------------------------------------------------


def _wrong(ended: Ended) -> str:
    """What was printed last, as the reason why an end is a bad one."""
    if ended.status is None:
        return "it hung"
    return f"status {ended.status}: {' | '.join(ended.said.splitlines()[-12:])}"


def _told(ended: Ended, *words: str) -> str:
    """Empty where a run ended with a message that holds one of the last words, and no traceback."""
    said = any(word in ended.said for word in words)
    return "" if ended.clean and ended.status != 0 and said else _wrong(ended)


def _fine(ended: Ended) -> str:
    """Empty where a run ended well."""
    return "" if ended.clean and ended.status == 0 else _wrong(ended)


def _again(place: Place) -> str:
    """The same command with the fault gone: empty where it ends in the bytes of peace."""
    return _fine(place.run()) or _unlike(place)


def _unlike(place: Place) -> str:
    """Empty where results are those of the run left in peace."""
    unlike = place.is_of_peace()
    return f"other bytes: {', '.join(unlike[:5])}" if unlike else ""


def _named(place: Place, path: Path) -> str:
    """Empty where a finding names the file."""
    name = path.relative_to(place.campaign).as_posix()
    return "" if any(name in text for text in place.findings()) else f"no finding names {name}"


FAULTS: dict[str, Callable[[Place], str]] = {
    "disk of the results full at 1 MB": lambda place: full_disk(place, "1m"),
    "disk of the results full at 3 MB": lambda place: full_disk(place, "3m"),
    "disk of the results full at 5 MB": lambda place: full_disk(place, "5m"),
    "disk of the results takes no more files": few_files,
    "no file may be larger than 100 kB": largest_file,
    "results read-only": read_only_results,
    "results without rights": no_rights,
    "temporary folder full": full_temporary_folder,
    "campaign read-only": read_only_campaign,
    "pipe among raw files": _odd(_pipe),
    "endless device among raw files": _odd(_device),
    "link to itself among raw files": _odd(_circle),
    "link to nowhere among raw files": _odd(_nowhere),
    "5 GB of nothing among raw files": _odd(_giant),
    "folder with the name of a raw file": _odd(_folder),
    "raw file that vanishes in mid-run": vanishing,
    "raw file that grows in mid-run": growing,
    "raw file with every sign in its name": odd_names,
}
"""Faults by name; each gives what was wrong with the end, empty for nothing."""


def prepare(folder: Path) -> tuple[Path, dict[str, str]]:
    """Make the campaign, and run it in peace.

    Parameters
    ----------
    folder : Path
        An empty folder.

    Returns
    -------
    campaign : Path
        Its folder, to be copied.
    peace : dict of str to str
        Checksums of its results.

    Raises
    ------
    RuntimeError
        The run failed.
    """
    campaign = folder / "campaign"
    campaign.mkdir()
    for name in ("campaign.yaml", "build-sheet.csv", "bench-log.csv"):
        shutil.copyfile(Path("config/demo") / name, campaign / name)
    make_demo([str(campaign), "--cells", *CELLS])
    keep_cells(campaign, cells=CELLS)
    with (campaign / "campaign.yaml").open("a", encoding="utf-8") as settings:
        settings.write("report: {part: meeting}\n")
    work = folder / "peace"
    work.mkdir()
    ended = Place(_placed(campaign, work), work, {}).run()
    if _fine(ended):
        raise RuntimeError(f"the run left in peace failed: {_wrong(ended)}")
    return campaign, digests(work)


def _placed(campaign: Path, work: Path) -> Path:
    """A copy of the campaign in a working folder: results name no place, but the way to it."""
    return Path(shutil.copytree(campaign, work / "campaign", symlinks=True))


def main(argv: Sequence[str] | None = None) -> int:
    """Try every fault; print a line each.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program.

    Returns
    -------
    int
        0 where every end was as it should be, 1 otherwise.
    """
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--only", default="", help="words of the names of faults to try")
    given = parser.parse_args(argv)
    bad = skipped = tried = 0
    with tempfile.TemporaryDirectory(prefix="trivet-faults-") as folder:
        campaign, peace = prepare(Path(folder))
        print(f"{len(peace)} files left in peace", flush=True)
        for number, (name, fault) in enumerate(FAULTS.items()):
            if given.only not in name:
                continue
            work = Path(folder) / f"fault-{number}"
            work.mkdir()
            began = time.monotonic()
            try:
                wrong = fault(Place(_placed(campaign, work), work, peace))
            except Skipped as why:
                skipped += 1
                print(f"{name}: skipped, {why}", flush=True)
                continue
            tried, bad = tried + 1, bad + bool(wrong)
            print(f"{name}: {wrong or 'well'} ({time.monotonic() - began:.0f} s)", flush=True)
            shutil.rmtree(work, ignore_errors=True)
    print(f"{tried} faults, {bad} bad ends, {skipped} skipped")
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main())
