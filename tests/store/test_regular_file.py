"""The guard of everything opened: no pipe is waited for, no device read, each refusal says why."""

from __future__ import annotations

import errno
import os
import socket
from pathlib import Path

import pytest

from trivet.store.checksums import sha256
from trivet.store.regular_file import open_regular, read_regular


def test_a_pipe_a_socket_and_a_device_are_refused_at_once(tmp_path: Path) -> None:
    """Neither hangs nor is read; the message says what stands there in place of a file."""
    os.mkfifo(tmp_path / "pipe")
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(str(tmp_path / "socket"))
    (tmp_path / "zero").symlink_to("/dev/zero")
    for name, kind in (("pipe", "named pipe"), ("socket", "socket"), ("zero", "device")):
        with pytest.raises(OSError, match=f"it is a {kind}, not a regular file"):
            sha256(tmp_path / name)


def test_links_that_lead_nowhere_say_so(tmp_path: Path) -> None:
    """A dangling link names its target, a loop of links is an error of the system."""
    (tmp_path / "gone").symlink_to("absent.csv")
    (tmp_path / "loop").symlink_to("loop")
    with pytest.raises(OSError, match=r"link to 'absent\.csv', which does not exist"):
        open_regular(tmp_path / "gone")
    with pytest.raises(OSError, match="symbolic links"):
        open_regular(tmp_path / "loop")


def test_a_sparse_giant_is_not_held_in_memory(tmp_path: Path) -> None:
    """A file of 5 GB that takes no disk is refused by its size."""
    with (tmp_path / "giant").open("wb") as file:
        file.truncate(5 * 2**30)
    with pytest.raises(OSError, match="it is sparse: 5120 MiB from byte 0 on hold no data"):
        read_regular(tmp_path / "giant")


def test_a_link_is_not_followed_where_that_is_asked(tmp_path: Path) -> None:
    """What is checked in a bag never leaves it."""
    (tmp_path / "real").write_text("x")
    (tmp_path / "link").symlink_to("real")
    assert read_regular(tmp_path / "link") == b"x"
    with pytest.raises(OSError, match="it is a link"):
        read_regular(tmp_path / "link", follow=False)


def test_a_file_system_that_knows_no_holes_refuses_no_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the question is not understood, a large file is read like any other."""
    with (tmp_path / "large").open("wb") as file:
        file.truncate(65 * 2**20)
    real = os.lseek

    def ask(handle: int, at: int, how: int) -> int:
        if how == os.SEEK_HOLE:
            raise OSError(errno.EINVAL, "Invalid argument")
        return real(handle, at, how)

    monkeypatch.setattr(os, "lseek", ask)
    with open_regular(tmp_path / "large") as file:
        assert len(file.read()) == 65 * 2**20
