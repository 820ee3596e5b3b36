"""Open a file that can be read to its end, and no other: one guard for everything that is opened.

A pipe would wait for ever, a device has no end, a sparse giant is hours of nothing. What may be
opened is a regular file that lies on disk; anything else is an OSError that says what it is, which
callers turn into a finding or a problem like a missing file.
"""

from __future__ import annotations

import errno
import os
import stat
from io import BufferedReader
from pathlib import Path

_KINDS = {
    stat.S_IFIFO: "is a named pipe",
    stat.S_IFCHR: "is a device",
    stat.S_IFBLK: "is a device",
    stat.S_IFSOCK: "is a socket",
    stat.S_IFDIR: "is a folder",
}
_SPARSE_FROM = 50_000_000
"""Size from which a file with hardly anything on disk is refused [B]."""
_ON_DISK = 0.05
"""Share of a file that has to lie on disk; compressing file systems keep far more."""


class NoFileError(OSError):
    """Something that is not a file with content; `strerror` says what it is."""

    def __init__(self, path: Path, what: str) -> None:
        super().__init__(errno.EINVAL, what, str(path))


def open_file(path: Path) -> BufferedReader:
    """Open a regular file to read its bytes; never waits.

    Raises
    ------
    OSError
        It is missing, a loop of links, or may not be read; `NoFileError` where it is a pipe, a
        device, a socket, a folder, or nothing but holes.
    """
    # without waiting: to open a pipe that nobody writes to would never come back
    handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        state = os.fstat(handle)
        if not stat.S_ISREG(state.st_mode):
            raise NoFileError(path, _KINDS.get(stat.S_IFMT(state.st_mode), "is no regular file"))
        on_disk = state.st_blocks * 512
        if state.st_size > _SPARSE_FROM and on_disk < _ON_DISK * state.st_size:
            raise NoFileError(
                path,
                f"is a sparse file: {state.st_size / 1e9:.3g} GB of which {on_disk / 1e6:.3g} MB "
                "lie on disk",
            )
        return os.fdopen(handle, "rb")
    except OSError:
        os.close(handle)
        raise


def read_file_bytes(path: Path, *, most: int | None = None) -> bytes:
    """All bytes of a regular file.

    Parameters
    ----------
    path : Path
        The file.
    most : int or None
        Most bytes that are read; a larger file is refused [B].

    Raises
    ------
    OSError
        As `open_file`; also where it is larger than may be.
    """
    with open_file(path) as file:
        if most is None:
            return file.read()
        content = file.read(most + 1)
    if len(content) > most:
        raise NoFileError(path, f"is larger than {most / 1e6:.3g} MB, the most for such a file")
    return content


def is_readable(path: Path) -> bool:
    """Whether a path leads to a regular file that may be read."""
    try:
        open_file(path).close()
    except OSError:
        return False
    return True
