"""`trivet overview`: several campaigns side by side."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path


def overview(folders: Sequence[Path], to: Path | None) -> str:
    """Put results side by side, as text and, where asked, as files.

    Parameters
    ----------
    folders : sequence of Path
        Folders of results, or archives.
    to : Path or None
        Folder to write tables and a page into; None: nothing is written.

    Raises
    ------
    InputError
        With every folder that holds no results.
    """
    # drawing takes a second to import, which no other command needs
    from trivet.results.overview import as_text, put_together, write  # noqa: PLC0415

    found = put_together(folders)
    written = [] if to is None else write(found, to)
    return "\n".join([as_text(found), *(f"written: {path}" for path in written)])
