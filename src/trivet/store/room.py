"""Writing where there is no room or no right to write: what a person is told."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from trivet.errors import CannotWriteError, Problem

_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_BARRED = {errno.EROFS, errno.EACCES, errno.EPERM}
_MEGABYTE = 1e6


@contextmanager
def writing(path: Path, *, at_most_bytes: int | None = None) -> Iterator[None]:
    """Say what is missing where a file can't be written.

    Parameters
    ----------
    path : Path
        The file.
    at_most_bytes : int or None
        Room that it needs at most [B]; None where that is not known.

    Raises
    ------
    CannotWriteError
        There is no room or no right; other errors of the system pass as they are.
    """
    try:
        yield
    except OSError as error:
        found = told(error, path, at_most_bytes=at_most_bytes)
        if found is None:
            raise
        raise found from error


def told(
    error: OSError, path: Path, *, at_most_bytes: int | None = None
) -> CannotWriteError | None:
    """What an error of the system says of room and rights; `None` where it is about neither.

    Parameters
    ----------
    error : OSError
        What the system said.
    path : Path
        The file that was to be written.
    at_most_bytes : int or None
        As in `writing`.
    """
    why = os.strerror(error.errno) if error.errno else str(error)
    if error.errno in _FULL:
        needed = "" if at_most_bytes is None else f" It takes {_size(at_most_bytes)} at most;"
        message = f"can't be written: {why}.{needed} {free(path)}."
        hint = ("Make room, or give another folder for the results with --reports; then give the "
                "same command again. Nothing half written is taken for whole.")  # fmt: skip
    elif error.errno in _BARRED:
        message = f"can't be written: {why}."
        hint = "Give the right to write there, or another folder for the results with --reports."
    else:
        return None
    return CannotWriteError(Problem(str(path), message, hint=hint))


def free(path: Path) -> str:
    """Room that is left at a place, in words.

    Parameters
    ----------
    path : Path
        A file or folder, which need not exist.
    """
    left = os.statvfs(_standing(path))
    return f"free there: {_size(left.f_bavail * left.f_frsize)}, {left.f_favail:,} further files"


def is_full(path: Path) -> bool:
    """Whether a disk takes less than a page of a table or no further file.

    Parameters
    ----------
    path : Path
        A file or folder on it, which need not exist.
    """
    left = os.statvfs(_standing(path))
    counts_files = left.f_files > 0
    return left.f_bavail * left.f_frsize < _MEGABYTE or (counts_files and left.f_favail < 8)


def _standing(path: Path) -> Path:
    """The nearest folder that exists."""
    return next(one for one in (path, *path.absolute().parents) if one.exists())


def _size(count: int) -> str:
    """Bytes in words."""
    return f"{count / _MEGABYTE:,.1f} MB"
