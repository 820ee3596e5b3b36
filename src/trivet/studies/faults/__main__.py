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
import shutil
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from trivet.studies.faults.place import Place, Skipped, fine
from trivet.studies.faults.raw_files import RAW_FILES
from trivet.studies.faults.surroundings import SURROUNDINGS
from trivet.studies.kills import digests, few_cells

CELLS = ("c01", "c10")


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
    campaign = few_cells(folder, cells=CELLS)
    with (campaign / "campaign.yaml").open("a", encoding="utf-8") as settings:
        settings.write("report: {part: meeting}\n")
    work = folder / "peace"
    work.mkdir()
    ended = Place(_placed(campaign, work), work, {}).run()
    if fine(ended):
        raise RuntimeError(f"the run left in peace failed: {fine(ended)}")
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
        for number, (name, fault) in enumerate({**SURROUNDINGS, **RAW_FILES}.items()):
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
