"""Both names of an interpreter are one in the commands of the jobs."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from trivet.workflow.interpreter import interpreter


@pytest.mark.parametrize("name", ["python", "python3"])
def test_both_names_give_one(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was made through the one name is not made again through the other."""
    for link in ("python", "python3"):
        (tmp_path / link).symlink_to(sys.executable)
    monkeypatch.setattr(sys, "executable", str(tmp_path / name))
    assert interpreter() == tmp_path / "python3"


def test_another_program_of_that_name_is_not_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A python3 beside it that is another file stays where it is."""
    (tmp_path / "python").write_text("", encoding="utf-8")
    (tmp_path / "python3").write_text("", encoding="utf-8")
    monkeypatch.setattr(sys, "executable", str(tmp_path / "python"))
    assert interpreter() == tmp_path / "python"
