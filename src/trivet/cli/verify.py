"""`trivet verify`: whether a bag is what it was, and what differs."""

from __future__ import annotations

from pathlib import Path

from trivet.archive.bag_check import check_bag
from trivet.archive.crate_check import check_crate
from trivet.archive.csvw_check import check_tables
from trivet.errors import InputError, Problem
from trivet.store.differences import Difference


def verify(bag: Path) -> tuple[str, list[Difference]]:
    """Check a bag; nothing in it is changed.

    Parameters
    ----------
    bag : Path
        Folder of the bag.

    Returns
    -------
    text : str
        What was checked, for the terminal.
    differences : list of Difference
        Everything that differs.

    Raises
    ------
    InputError
        The folder is no bag, or can't be read.
    """
    try:
        files, differences = check_bag(bag)
        differences += check_crate(bag / "data")
        tables, of_tables = check_tables(bag / "data" / "tables", "data/tables")
    except OSError as error:
        message = f"can't be read: {error.strerror}."
        raise InputError([Problem(str(error.filename or bag), message)]) from error
    differences += of_tables
    text = (
        f"{bag}: {files} files against their checksums, {tables} tables against their description"
    )
    return text, differences
