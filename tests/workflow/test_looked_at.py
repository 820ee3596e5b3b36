"""What was found in a file is taken again only while nothing says that the file is another."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from trivet.workflow import looked_at
from trivet.workflow.looked_at import LookedAt


@pytest.fixture
def looked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, list[str]]:
    """A file that was looked at and left alone since, and what further looks find."""
    monkeypatch.setattr(looked_at, "_SETTLED_S", -60.0)
    file = tmp_path / "data.txt"
    file.write_text("one", encoding="utf-8")
    again(file)
    return file, again(file)


def again(file: Path) -> list[str]:
    """What a new run reads from the disk."""
    read: list[str] = []

    def look(path: Path) -> str:
        """Read a file, and count it."""
        read.append(path.read_text(encoding="utf-8"))
        return read[-1]

    files = LookedAt(file.with_name("kept.json"), look)
    assert files.of(file, "data.txt") == file.read_text(encoding="utf-8")
    files.keep()
    return read


def test_a_file_left_alone_is_not_read_again(looked: tuple[Path, list[str]]) -> None:
    """Size, times and inode stand, so that the file is not opened."""
    assert looked[1] == []


def test_a_file_in_its_place_is_read(looked: tuple[Path, list[str]]) -> None:
    """Another file of like size and date under the same name has another inode."""
    file, _none = looked
    state, other = file.stat(), file.with_name("other.txt")
    other.write_text("two", encoding="utf-8")
    os.utime(other, ns=(state.st_atime_ns, state.st_mtime_ns))
    other.replace(file)
    assert again(file) == ["two"]


def test_a_date_put_back_hides_no_change(looked: tuple[Path, list[str]]) -> None:
    """The change of the inode's state has a time of its own, which no program sets."""
    file, _none = looked
    state = file.stat()
    while time.time_ns() <= state.st_ctime_ns + 20_000_000:
        time.sleep(0.01)  # clocks of file systems tick coarsely
    file.write_text("two", encoding="utf-8")
    os.utime(file, ns=(state.st_atime_ns, state.st_mtime_ns))
    assert again(file) == ["two"]


def test_a_file_changed_just_now_is_not_kept(tmp_path: Path) -> None:
    """A change within the same tick of the clock would not show, so that a fresh file is read."""
    file = tmp_path / "data.txt"
    file.write_text("one", encoding="utf-8")
    again(file)
    assert again(file) == ["one"]


def test_a_damaged_memory_is_none(looked: tuple[Path, list[str]]) -> None:
    """Files are read again where what was kept can't be."""
    file, _none = looked
    file.with_name("kept.json").write_text('{"data.txt": [3', encoding="utf-8")
    assert again(file) == ["one"]
