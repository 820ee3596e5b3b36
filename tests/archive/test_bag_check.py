"""Checking a bag, beside an outside library for bags (bagit)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import bagit
import pytest

from trivet.archive.bag import write_bag
from trivet.archive.bag_check import check_bag
from trivet.errors import InputError


@pytest.fixture
def bag(tmp_path: Path) -> Path:
    """A bag of three files."""
    folder = tmp_path / "bag"
    payload = {"a.txt": b"first", "b/ü x.txt": b"second", "c.txt": b""}
    write_bag(folder, payload, {"External-Identifier": "x"})
    return folder


def test_a_bag_is_valid_by_an_outside_library(bag: Path) -> None:
    """RFC 8493, section 3: complete and valid, by the library and by our own check."""
    bagit.Bag(str(bag)).validate()
    checked, differences = check_bag(bag)
    assert differences == []
    assert checked == 6


def test_escaped_signs_of_paths_are_read_back(tmp_path: Path) -> None:
    """RFC 8493, 2.1.3: line ends and the percent sign are escaped (bagit leaves the latter)."""
    payload = {"100%.txt": b"1", "two\nlines.txt": b"2", "%0A.txt": b"3"}
    write_bag(tmp_path / "bag", payload, {})
    assert check_bag(tmp_path / "bag") == (6, [])


def flip(path: Path) -> None:
    """Change one bit of a file, its length kept."""
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


@pytest.mark.parametrize("name", ["data/a.txt", "data/b/ü x.txt", "bag-info.txt"])
def test_a_flipped_bit_is_found(bag: Path, name: str) -> None:
    """One bit of any file: named with both checksums, and the outside library objects too."""
    flip(bag / name)
    with pytest.raises(bagit.BagError):
        bagit.Bag(str(bag)).validate()
    differences = check_bag(bag)[1]
    assert [one.what for one in differences if one.file == name] == ["sha256"]
    found = next(one for one in differences if one.file == name)
    assert len(found.expected) == len(found.found) == 64
    assert found.expected != found.found


@pytest.mark.parametrize(
    ("change", "file", "found"),
    [
        (lambda bag: (bag / "data" / "a.txt").unlink(), "data/a.txt", "none"),
        (lambda bag: (bag / "data" / "d.txt").write_text("x"), "data/d.txt", "a file"),
        (lambda bag: (bag / "manifest-sha256.txt").unlink(), "manifest-sha256.txt", "none"),
        (lambda bag: (bag / "bagit.txt").write_text("x"), "bagit.txt", "'x'"),
        (lambda bag: (bag / "fetch.txt").write_text("x"), "fetch.txt", "a list of them"),
    ],
    ids=["missing", "one more", "no manifest", "no declaration", "to be fetched"],
)
def test_what_is_missing_or_too_much_is_named(
    bag: Path, change: Callable[[Path], object], file: str, found: str
) -> None:
    """RFC 8493, section 3: every file is listed, every listed file is there."""
    change(bag)
    assert (file, found) in {(one.file, one.found) for one in check_bag(bag)[1]}


@pytest.mark.parametrize(
    "path", ["../outside.txt", "/etc/hostname", "data/../../outside.txt", "~x"]
)
def test_no_manifest_leads_out_of_the_bag(bag: Path, path: str) -> None:
    """RFC 8493, section 5.1: such a path is named as wrong, and the file is not opened."""
    (bag.parent / "outside.txt").write_text("secret", encoding="utf-8")
    with (bag / "manifest-sha256.txt").open("a", encoding="utf-8") as manifest:
        manifest.write(f"{'0' * 64}  {path}\n")
    differences = check_bag(bag)[1]
    assert any(one.what == "line 4" and path in one.found for one in differences)
    assert not any(one.file == path for one in differences)


def test_a_link_is_not_followed(bag: Path) -> None:
    """A link in place of a file differs, even where it leads to the same content."""
    (bag.parent / "a.txt").write_bytes(b"first")
    (bag / "data" / "a.txt").unlink()
    (bag / "data" / "a.txt").symlink_to(bag.parent / "a.txt")
    assert ("data/a.txt", "a link") in {(one.file, one.found) for one in check_bag(bag)[1]}


def test_what_is_no_bag_is_refused(tmp_path: Path) -> None:
    """A folder without a declaration is no bag, and the message says which folder is wanted."""
    with pytest.raises(InputError, match=r"it has no bagit\.txt"):
        check_bag(tmp_path)


def test_signs_that_steer_a_terminal_are_shown_as_codes(bag: Path) -> None:
    """A file name may hold an escape sequence; it is printed, not obeyed."""
    (bag / "data" / "\x1b[2J.txt").write_text("", encoding="utf-8")
    lines = [str(one) for one in check_bag(bag)[1]]
    assert any("\\x1b[2J.txt" in line for line in lines)
    assert not any("\x1b" in line for line in lines)
