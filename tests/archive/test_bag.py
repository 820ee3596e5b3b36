"""The archive is a bag as RFC 8493 (The BagIt File Packaging Format) lays it out."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from trivet.archive.bag import write_bag
from trivet.archive.bag_check import check_bag


def test_a_bag_has_its_parts_and_right_checksums(tmp_path: Path) -> None:
    """RFC 8493, 2.1 to 2.2: declaration, payload below data/, manifests with SHA-256."""
    source = tmp_path / "source.txt"
    source.write_text("content", encoding="utf-8")
    bag = tmp_path / "bag"
    write_bag(bag, {"a/b.txt": source, "c%.txt": b"more"}, {"External-Identifier": "x\ny"})
    declaration = (bag / "bagit.txt").read_text(encoding="utf-8")
    assert declaration == "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    manifest = (bag / "manifest-sha256.txt").read_text(encoding="utf-8").splitlines()
    content = hashlib.sha256(b"content").hexdigest()
    assert manifest[0] == f"{content}  data/a/b.txt"
    assert manifest[1].endswith("  data/c%25.txt")
    info = (bag / "bag-info.txt").read_text(encoding="utf-8")
    assert "External-Identifier: x y\n" in info
    assert "Payload-Oxum: 11.2\n" in info
    for line in (bag / "tagmanifest-sha256.txt").read_text(encoding="utf-8").splitlines():
        checksum, name = line.split("  ")
        assert checksum == hashlib.sha256((bag / name).read_bytes()).hexdigest()


def test_what_stood_there_before_is_gone(tmp_path: Path) -> None:
    """A second bag in the same folder holds nothing of the first."""
    write_bag(tmp_path / "bag", {"old.txt": b"1"}, {})
    write_bag(tmp_path / "bag", {"new.txt": b"1"}, {})
    assert not (tmp_path / "bag" / "data" / "old.txt").exists()


def test_the_last_good_bag_stays_until_the_new_one_is_whole(tmp_path: Path) -> None:
    """A payload file that has gone ends the writing, and the bag before is as it was."""
    write_bag(tmp_path / "bag", {"a.txt": b"good"}, {"Source-Organization": "Invented"})
    with pytest.raises(FileNotFoundError):
        write_bag(tmp_path / "bag", {"a.txt": b"new", "b.txt": tmp_path / "gone"}, {})
    assert (tmp_path / "bag" / "data" / "a.txt").read_bytes() == b"good"
    assert check_bag(tmp_path / "bag")[1] == []


def test_a_good_bag_set_aside_by_a_stopped_run_is_kept_until_a_new_one_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kill between the two renames leaves the bag under its other name, so does a second kill."""

    def stopped(source: Path, target: Path) -> None:
        raise InterruptedError(source, target)

    write_bag(tmp_path / "bag", {"a.txt": b"good"}, {"Source-Organization": "Invented"})
    aside = (tmp_path / "bag").rename(tmp_path / ".bag.old")
    with monkeypatch.context() as patch:
        patch.setattr(Path, "rename", stopped)
        with pytest.raises(InterruptedError):
            write_bag(tmp_path / "bag", {"a.txt": b"new"}, {"Source-Organization": "Invented"})
    assert check_bag(aside)[1] == []
    write_bag(tmp_path / "bag", {"a.txt": b"new"}, {"Source-Organization": "Invented"})
    assert not aside.exists()
    assert check_bag(tmp_path / "bag")[1] == []


def test_a_pipe_and_a_link_in_a_bag_are_differences(tmp_path: Path) -> None:
    """Neither is waited for nor followed; each is named (RFC 8493, section 5.1 on paths)."""
    write_bag(tmp_path / "bag", {"a.txt": b"a", "b.txt": b"b"}, {"Source-Organization": "Invented"})
    (tmp_path / "bag" / "data" / "a.txt").unlink()
    os.mkfifo(tmp_path / "bag" / "data" / "a.txt")
    (tmp_path / "bag" / "bag-info.txt").unlink()
    (tmp_path / "bag" / "bag-info.txt").symlink_to("/dev/zero")
    wrong = {one.file for one in check_bag(tmp_path / "bag")[1]}
    assert {"data/a.txt", "bag-info.txt"} <= wrong
