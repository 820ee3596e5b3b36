"""Checksums of files."""

from __future__ import annotations

import hashlib
from pathlib import Path

from trivet.store.regular_file import open_file


def sha256(path: Path) -> str:
    """SHA-256 of a file, as hexadecimal digits.

    Raises
    ------
    OSError
        See `trivet.store.regular_file.open_file`.
    """
    with open_file(path) as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
