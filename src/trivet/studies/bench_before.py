"""An earlier state beside this one, in one run: what each thing takes, how many times as long.

`python -m trivet.studies.bench_before [COMMIT]` takes the tree of a commit out of the history (by
default the last of the first round) and lets it and this state do the same by turns: read a clean
file, take spectra through their whole chain, run the invented campaign, run it with nothing to do,
with its report to be made anew, and with one raw file changed. The libraries are those of this
environment in both; the campaign is made by the state that runs it. Processor time of all
processes.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import trivet
from trivet.studies.bench import write_clean_file
from trivet.studies.scale import accounted

FIRST_ROUND = "cb73b8b"
ROWS = 1_000_000
SPECTRA = 20
TURNS = 3
_CHANGED_CELL = "c05"
_CHAIN = (
    "from trivet.studies.bench_impedance import each, made_spectra, milliseconds, run_chain; "
    f"made = made_spectra({SPECTRA}); "
    "print(milliseconds(lambda: each(run_chain, made), 3) / 1000 / len(made))"
)
_BY_SNAKEMAKE = ("-m", "snakemake", "--workflow-profile", "config/profiles/local")
_BY_COMMAND = ("-m", "trivet.cli.main", "run", "config/demo")


class NoHistoryError(Exception):
    """The commit is not to be had here."""


@dataclass(frozen=True)
class State:
    """A state of the program, with a folder to work in.

    Attributes
    ----------
    source : Path
        The folder that holds its package.
    work : Path
        Where the campaign lies and its results go.
    run : tuple of str
        What runs the campaign, after the name of the interpreter.
    """

    source: Path
    work: Path
    run: tuple[str, ...]

    def python(self, *arguments: str) -> tuple[str, float]:
        """What a command prints, and the processor time of it and all that it started [s].

        Raises
        ------
        RuntimeError
            It failed.
        """
        with tempfile.TemporaryFile() as printed:
            usage = accounted(*arguments, work=self.work, log=printed, source=self.source)
            printed.seek(0)
            told = printed.read().decode("utf-8", errors="replace")
        return told, usage.ru_utime + usage.ru_stime


@dataclass(frozen=True)
class Beside:
    """What one thing takes in both states [s]."""

    what: str
    before_s: float
    now_s: float


def tree_of(commit: str, folder: Path) -> None:
    """Write the tree of a commit below a folder.

    Parameters
    ----------
    commit : str
        The commit.
    folder : Path
        Where to.

    Raises
    ------
    NoHistoryError
        There is no such commit here, or no history.
    """
    try:
        top = _git("rev-parse", "--show-toplevel", where=Path(trivet.__file__).parent)
        packed = _git("archive", commit, where=Path(os.fsdecode(top.rstrip(b"\n"))))
    except FileNotFoundError as error:
        raise NoHistoryError("git is not installed") from error
    except subprocess.CalledProcessError as error:
        raise NoHistoryError(os.fsdecode(error.stderr).strip()) from error
    with tarfile.open(fileobj=BytesIO(packed)) as archive:
        archive.extractall(folder, filter="data")


def _git(*arguments: str, where: Path) -> bytes:
    """What git prints."""
    call = ["git", "-C", str(where), *arguments]
    return subprocess.run(call, check=True, capture_output=True).stdout


def compared(before: State, now: State) -> Iterator[Beside]:
    """Let both do the same, and say what it took.

    Parameters
    ----------
    before, now : State
        The states.
    """
    states = (before, now)
    text = now.work / "clean.csv"
    write_clean_file(text, ROWS)
    (now.work / "out").mkdir()
    for side, what in (("arrow", "by arrow alone"), ("stage", "by the stage")):
        call = ("-m", "trivet.studies.bench", side, str(text), str(now.work / "out"))
        yield Beside(f"reading {ROWS:,} rows, {what}", *_by_turns(states, *call))
    yield Beside("the chain of a spectrum of three pairs", *_by_turns(states, "-c", _CHAIN))
    for state in states:
        state.python("-m", "trivet.demo.make", "config/demo", "--sheets")
    yield Beside("the invented campaign", *(state.python(*state.run)[1] for state in states))
    yield Beside("again, nothing to do", *(state.python(*state.run)[1] for state in states))
    for state in states:
        (state.work / "reports" / "demo" / "report.pdf").unlink()
    yield Beside("again, the report anew", *(state.python(*state.run)[1] for state in states))
    for state in states:
        change_a_file(state.work / "config" / "demo" / "raw", cell=_CHANGED_CELL)
    yield Beside("again, one cell changed", *(state.python(*state.run)[1] for state in states))


def _by_turns(states: Sequence[State], *call: str) -> tuple[float, float]:
    """Least of what a call prints as its first number, in each of two states by turns [s]."""
    runs = [[float(state.python(*call)[0].split()[0]) for state in states] for _ in range(TURNS)]
    before_s, now_s = (min(times) for times in zip(*runs, strict=True))
    return before_s, now_s


def change_a_file(raw: Path, *, cell: str) -> Path:
    """Take the last row off the first cycling file of a cell; gives the file.

    Parameters
    ----------
    raw : Path
        Folder of the raw files.
    cell : str
        The cell.
    """
    path = min(path for path in raw.glob("cycling*/*") if cell in path.name)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:-1]))
    return path


def table(found: Sequence[Beside], *, commit: str) -> Iterator[str]:
    """Lines of the table.

    Parameters
    ----------
    found : sequence of Beside
        What `compared` gives.
    commit : str
        The earlier state.
    """
    yield f"| processor time | {commit}, s | now, s | times as long |"
    yield "|---|---|---|---|"
    for one in found:
        ratio = one.now_s / one.before_s
        yield f"| {one.what} | {one.before_s:.3g} | {one.now_s:.3g} | {ratio:.2f} |"


def main(argv: Sequence[str] | None = None) -> None:
    """Compare with an earlier state and print the table, or say that there is no history here.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program.
    """
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("commit", nargs="?", default=FIRST_ROUND)
    given = parser.parse_args(argv)
    with tempfile.TemporaryDirectory(prefix="trivet-bench-") as made:
        old, new = (Path(made) / name for name in ("before", "now"))
        new.mkdir()
        try:
            tree_of(given.commit, old)
        except NoHistoryError as error:
            print(f"Not compared with {given.commit}: {error}")
            return
        before = State(old / "src", old, _BY_SNAKEMAKE)
        now = State(Path(trivet.__file__).parents[1], new, _BY_COMMAND)
        for line in table(list(compared(before, now)), commit=given.commit):
            print(line)


if __name__ == "__main__":
    main()
