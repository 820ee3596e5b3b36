"""Trivet: from a folder of raw files and a build sheet to an honest report on coin cells."""

import importlib
import os
from typing import Any

from trivet.version import VERSION

__version__ = VERSION


def open(folder: str | os.PathLike[str]) -> Any:  # noqa: ANN401 (`__init__.pyi` names the type)
    """Open the results of a campaign.

    Parameters
    ----------
    folder : str or path
        Folder of results, `reports/<id>`, or the bag of an archive.

    Returns
    -------
    trivet.results.opened.Results
        Its tables as pandas frames, by attribute and by item, read when asked for: numbers are
        numbers, truths bool, groups and other words categories in the campaign's order, and beside
        each stored time, say `start_s`, stands `start_s_local` in the campaign's zone. `attrs` of a
        frame holds unit and meaning of each column.

    Raises
    ------
    trivet.results.folder.ResultsError
        The folder holds no results; the text says what to give instead.
    """
    # The statement `import` would make every job of a run depend on this room, see `source_digest`.
    return importlib.import_module("trivet.results.opened").opened(folder)
