"""One guard for whatever is opened: a regular file that can be read, or an error that says why not.

A named pipe waits for ever to be opened, a device gives bytes without end: neither is opened for
reading before it is known to be a file.
"""

from __future__ import annotations

import errno
import io
import os
import stat
from pathlib import Path

SMALL_FILE_BYTES = 64 * 2**20
"""Most that a file people type may take; it is held whole in memory [bytes]."""
WORKBOOK_BYTES = 512 * 2**20
"""Most that a workbook may take, packed as it is [bytes]."""
HOLE_BYTES = 64 * 2**20
"""Longest stretch without any data that a file may have; reading it gives zeros only [bytes]."""

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a named pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


def open_regular(path: Path, *, follow: bool = True) -> io.BufferedReader:
    """Open a regular file for reading its bytes, without ever waiting for anything.

    Parameters
    ----------
    path : Path
        The file.
    follow : bool
        Whether links are followed.

    Raises
    ------
    OSError
        It is absent, may not be read, a link that leads nowhere or in a circle, or no regular file;
        `strerror` says which.
    """
    flags = os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK | os.O_NOCTTY
    if not follow:
        flags |= os.O_NOFOLLOW
    try:
        # Devices may act on being opened, so the kind is looked at before as well as after.
        _only_regular(path, os.stat(path, follow_symlinks=follow))
        handle = os.open(path, flags)
    except FileNotFoundError as error:
        if path.is_symlink():
            message = f"it is a link to '{os.readlink(path)}', which does not exist"
            raise FileNotFoundError(errno.ENOENT, message, str(path)) from error
        raise
    except ValueError as error:
        raise OSError(errno.EINVAL, f"its path is none: {error}", str(path)) from error
    try:
        state = os.fstat(handle)
        _only_regular(path, state)
        if state.st_size > HOLE_BYTES:
            _without_large_holes(path, handle, state.st_size)
    except OSError:
        os.close(handle)
        raise
    return open(handle, "rb")


def _only_regular(path: Path, state: os.stat_result) -> None:
    """Refuse whatever is no regular file.

    Raises
    ------
    OSError
        It is none.
    """
    if stat.S_ISREG(state.st_mode):
        return
    kind = next((word for fits, word in _KINDS if fits(state.st_mode)), "a link")
    raise OSError(errno.EINVAL, f"it is {kind}, not a regular file", str(path))


def _without_large_holes(path: Path, handle: int, size: int) -> None:
    """Refuse a sparse giant, whose size says more than it holds.

    Where the file system knows no holes, it reports all as data (POSIX.1-2024, lseek).

    Raises
    ------
    OSError
        A hole is longer than `HOLE_BYTES`.
    """
    at = 0
    while at < size and hasattr(os, "SEEK_HOLE"):
        try:
            hole = os.lseek(handle, at, os.SEEK_HOLE)
        except OSError:  # a file system that can't be asked for holes: none are known
            break
        try:
            at = os.lseek(handle, hole, os.SEEK_DATA)
        except OSError:  # no data behind the hole
            at = size
        if at - hole > HOLE_BYTES:
            message = f"it is sparse: {(at - hole) // 2**20} MiB from byte {hole} on hold no data"
            raise OSError(errno.EFBIG, message, str(path))
    os.lseek(handle, 0, os.SEEK_SET)


def read_regular(path: Path, *, most: int = SMALL_FILE_BYTES, follow: bool = True) -> bytes:
    """Bytes of a regular file of limited size.

    Parameters
    ----------
    path : Path
        The file.
    most : int
        Most bytes it may have.
    follow : bool
        Whether links are followed.

    Raises
    ------
    OSError
        As `open_regular`, or the file is larger.
    """
    with open_regular(path, follow=follow) as file:
        content = b""
        if os.fstat(file.fileno()).st_size <= most:
            content = file.read(most + 1)
            if len(content) <= most:
                return content
    raise OSError(errno.EFBIG, f"it is larger than {most // 2**20} MiB, the most read", str(path))
