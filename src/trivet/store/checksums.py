"""Checksums of files."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from trivet.store.regular_file import open_regular

NOTHING = hashlib.sha256().hexdigest()
"""Checksum of a file without content."""


def sha256(path: Path, *, follow: bool = True) -> str:
    """SHA-256 of a regular file, as hexadecimal digits.

    Raises
    ------
    OSError
        It can't be read, or is no regular file.
    """
    with open_regular(path, follow=follow) as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def digest_of(parts: Iterable[tuple[str, str]]) -> str:
    """Twelve hexadecimal digits over names and checksums.

    Parameters
    ----------
    parts : iterable of tuple of str and str
        Name and checksum of each.
    """
    text = "\n".join(f"{name} {checksum}" for name, checksum in parts)
    return hashlib.sha256(text.encode()).hexdigest()[:12]
