"""`trivet export`: the main tables as a workbook, the figures for slides."""

from __future__ import annotations

from pathlib import Path


def export(folder: Path, to: Path | None) -> str:
    """Write workbook and figures; say what was written.

    Parameters
    ----------
    folder : Path
        Folder of results, or an archive.
    to : Path or None
        Folder to write into; None: `<id>-export` here.

    Raises
    ------
    InputError
        There are no results, or they can't be drawn by this version.
    """
    # drawing takes a second to import, which no other command needs
    from trivet.results.export import LIST_OF_FIGURES  # noqa: PLC0415
    from trivet.results.export import export as written  # noqa: PLC0415

    done = written(folder, to)
    return "\n".join(
        [
            f"workbook: {done.workbook}",
            f"figures:  {len(done.figures)}, each as SVG and PNG, in {done.folder}; "
            f"{LIST_OF_FIGURES} says what each shows",
        ]
    )
