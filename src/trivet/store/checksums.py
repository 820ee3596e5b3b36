"""Checksums of files."""

from __future__ import annotations

import hashlib
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
