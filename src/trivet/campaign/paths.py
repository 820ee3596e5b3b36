"""Paths of a campaign folder, and those that people give on the command line."""

from __future__ import annotations

import os
from pathlib import Path

from trivet.errors import InputError, Problem

SETTINGS_FILE = "campaign.yaml"
"""Name of the settings in a campaign folder."""


def short_path(path: Path) -> Path:
    """Path relative to the working folder where it lies below it, so that commands stay short.

    Parameters
    ----------
    path : Path
        As given; `~` is the home folder.

    Raises
    ------
    InputError
        The path has braces, which the workflow would take for placeholders.
    """
    absolute = path.expanduser().absolute()
    if set(str(absolute)) & set("{}"):
        hint = "Rename the folder, or work in another one."
        raise InputError([Problem(str(path), "has braces in its path.", hint=hint)])
    here = Path.cwd()
    below = absolute.relative_to(here) if absolute.is_relative_to(here) else None
    # one that starts with a dash would be taken for an option
    if below is not None and not str(below).startswith("-"):
        return below
    return Path(os.path.normpath(absolute))
