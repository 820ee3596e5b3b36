"""Disks that fill, folders that can't be written, temporary folders without room."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable

from trivet.studies.faults.place import (
    Place,
    Skipped,
    again,
    fine,
    mount,
    small_disk,
    told,
    unlike,
)

_NOBODY = 65534


def full_disk(place: Place, size: str) -> str:
    """The disk of the results fills in mid-run; then there is room."""
    with small_disk(place.reports, f"size={size}"):
        ended = place.run()
        wrong = told(ended, str(place.reports.name), "No space left")
        mount("-o", "remount,size=1g", str(place.reports))
        return wrong or again(place)


def few_files(place: Place) -> str:
    """The disk of the results takes no more files, though it has room."""
    with small_disk(place.reports, "size=1g,nr_inodes=60"):
        ended = place.run()
        wrong = told(ended, str(place.reports.name), "No space left")
        mount("-o", "remount,nr_inodes=100000", str(place.reports))
        return wrong or again(place)


def largest_file(place: Place) -> str:
    """No file may grow beyond a size, as under a quota; then it may."""
    place.before = ("sh", "-c", 'ulimit -f 200; exec "$@"', "sh")
    wrong = told(place.run(), "File too large")
    place.before = ()
    return wrong or again(place)


def read_only_results(place: Place) -> str:
    """The folder of results can't be written; then it can."""
    with small_disk(place.reports, "size=1g"):
        mount("-o", "remount,ro", str(place.reports))
        ended = place.run()
        wrong = told(ended, str(place.reports.name), "Read-only file system")
        mount("-o", "remount,rw", str(place.reports))
        return wrong or again(place)


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
    wrong = told(place.run(), str(place.reports.name), "Permission denied")
    place.user = None
    return wrong or again(place)


def full_temporary_folder(place: Place) -> str:
    """The folder for temporary files is full; then another one is named."""
    spare = place.work / "spare"
    with small_disk(spare, "size=64k"):
        (spare / "ballast").write_bytes(b"0" * 65536)
        place.surroundings["TMPDIR"] = str(spare)
        ended = place.run()
        del place.surroundings["TMPDIR"]
        if ended.clean and ended.status == 0:
            return unlike(place)
        return told(ended, "No space left", "No usable temporary directory") or again(place)


def read_only_campaign(place: Place) -> str:
    """Raw files, settings and sheets can't be written: nothing is missing."""
    mount("--bind", str(place.campaign), str(place.campaign))
    try:
        mount("-o", "remount,bind,ro", str(place.campaign))
        ended = place.run()
    finally:
        subprocess.run(["umount", "-l", str(place.campaign)], check=False)
    return fine(ended) or unlike(place)


SURROUNDINGS: dict[str, Callable[[Place], str]] = {
    "disk of the results full at 1 MB": lambda place: full_disk(place, "1m"),
    "disk of the results full at 3 MB": lambda place: full_disk(place, "3m"),
    "disk of the results full at 5 MB": lambda place: full_disk(place, "5m"),
    "disk of the results takes no more files": few_files,
    "no file may be larger than 100 kB": largest_file,
    "results read-only": read_only_results,
    "results without rights": no_rights,
    "temporary folder full": full_temporary_folder,
    "campaign read-only": read_only_campaign,
}
"""Faults by name; each gives what was wrong with the end, empty for nothing."""
