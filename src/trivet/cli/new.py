"""`trivet new`: a commented campaign folder to fill in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from trivet.campaign.paths import SETTINGS_FILE
from trivet.errors import InputError, Problem
from trivet.schema.cell_facts import FAILURE_CAUSES, LOG_EVENTS
from trivet.schema.settings.example import example_yaml

_BUILD_SHEET = """\
# One row a cell, also for cells that failed at assembly. Lines that start with # are comments.
# cell, batch and the factors named in campaign.yaml are required; so is the column named by
# lifetime.clock_start. Leave a value empty where it was not recorded. Times are local, in the
# zone of campaign.yaml. included is yes or no; a cell that does not count needs a reason.
# Columns that end in a unit (_mg, _mm, _um, _uL) hold numbers with a decimal point. Add your own.
cell,batch,seal,separators,included,exclusion_reason,wetted_at,crimped_at,sealed_at,\
cycling_started_at,positive_active_mass_mg,positive_mass_uncertainty_mg,positive_diameter_mm,\
negative_diameter_mm,mesh_diameter_mm,lead_wire_um,electrolyte_uL,assembly_fault
A01,A,plain,1+1,yes,,2026-03-02T10:05,2026-03-02T10:20,2026-03-02T11:00,,9.8,0.05,12,15,4,30,80,
A02,A,bead,1+1,yes,,2026-03-02T10:25,2026-03-02T10:40,2026-03-02T11:30,,9.7,0.05,12,15,4,30,80,
"""
_BENCH_LOG = """\
# What people did, one line an event, times as in the build sheet. It outranks the rules.
# event: {events}
# cause (with failed only): {causes}
# charge_mAh: charge plated on the reference; mass_mg: mass of the cell when weighed
time,cell,event,cause,charge_mAh,mass_mg,note
"""
_LOG_ROWS = """\
2026-03-03T09:00,A01,plated,,0.03,,
2026-03-03T09:00,A02,plated,,0.03,,
"""


def new(folder: Path) -> str:
    """Write a campaign folder; nothing that exists is touched.

    Parameters
    ----------
    folder : Path
        Folder to make, or an empty one.

    Returns
    -------
    str
        What to do next, for the terminal.

    Raises
    ------
    InputError
        A file of that name exists, or the folder can't be made.
    """
    written(
        folder,
        {
            SETTINGS_FILE: example_yaml(),
            "build-sheet.csv": _BUILD_SHEET,
            "bench-log.csv": bench_log_text() + _LOG_ROWS,
        },
    )
    return "\n".join(
        [
            f"{folder} is ready to be filled in:",
            f"  1. {SETTINGS_FILE}: every line marked 'decide', and the layouts of your files",
            "  2. build-sheet.csv: a row for every cell built",
            "  3. bench-log.csv: what was done to cells, or set bench_log.file to null",
            "  4. raw/cycling and raw/impedance: your files, untouched",
            f"Then: trivet check {folder}",
        ]
    )


def bench_log_text() -> str:
    """Give a bench log without entries."""
    return _BENCH_LOG.format(events=", ".join(LOG_EVENTS), causes=", ".join(FAILURE_CAUSES))


def written(folder: Path, files: Mapping[str, str]) -> None:
    """Write the files of a campaign folder, and make its folders of raw files.

    Parameters
    ----------
    folder : Path
        Folder to make, or one without these files.
    files : mapping of str to str
        Contents by name.

    Raises
    ------
    InputError
        A file of that name exists, or the folder can't be written.
    """
    present = [
        Problem(str(folder / name), "exists already; it is not overwritten.")
        for name in files
        if (folder / name).exists()
    ]
    if present:
        raise InputError(present)
    try:
        for subfolder in ("raw/cycling", "raw/impedance"):
            (folder / subfolder).mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            (folder / name).write_text(content, encoding="utf-8")
    except OSError as error:
        raise InputError([Problem(str(folder), f"can't be written: {error.strerror}.")]) from error
