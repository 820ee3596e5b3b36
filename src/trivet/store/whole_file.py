"""A file that is written beside its place and put there once it is whole."""

from __future__ import annotations

from pathlib import Path


def write_whole(path: Path, content: bytes, *, mark: str = "new") -> None:
    """Write beside and rename, so that no half of a file is ever taken for whole.

    Parameters
    ----------
    path : Path
        The file; its folder is made.
    content : bytes
        All that it holds.
    mark : str
        End of its name until then: one name, so that what a kill leaves is written over; one of
        each process where several may write at once.

    Raises
    ------
    OSError
        It can't be written; what stood there still does.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.{mark}")
    try:
        beside.write_bytes(content)
        beside.replace(path)
    except OSError:
        beside.unlink(missing_ok=True)
        raise
