"""Paths from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from trivet.campaign.paths import short_path
from trivet.errors import InputError


def test_paths_below_the_working_folder_are_short(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Below: relative; elsewhere: absolute; one that starts with a dash is never an option."""
    monkeypatch.chdir(tmp_path)
    assert short_path(Path("campaign")) == Path("campaign")
    assert short_path(tmp_path / "campaign") == Path("campaign")
    assert short_path(tmp_path.parent / "elsewhere") == tmp_path.parent / "elsewhere"
    assert short_path(Path("-rf")) == tmp_path / "-rf"


def test_braces_are_refused(tmp_path: Path) -> None:
    """The workflow would take them for placeholders; the message says what to do."""
    with pytest.raises(InputError, match="has braces in its path"):
        short_path(tmp_path / "{cell}")
