"""Only a regular file that lies on disk is opened; anything else says what it is, at once."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from trivet.store.checksums import sha256
from trivet.store.regular_file import NoFileError, is_readable, open_file, read_file_bytes


def test_a_file_is_read(tmp_path: Path) -> None:
    """An ordinary file comes back byte by byte, by a link too."""
    path = tmp_path / "a"
    path.write_bytes(b"x\ny")
    link = tmp_path / "b"
    link.symlink_to(path)
    assert read_file_bytes(link) == b"x\ny"
    assert is_readable(path)


def test_a_pipe_never_waits(tmp_path: Path) -> None:
    """Nobody writes to it, and still it comes back."""
    os.mkfifo(tmp_path / "p")
    with pytest.raises(NoFileError, match="named pipe"):
        sha256(tmp_path / "p")


def test_a_device_a_socket_and_a_folder_are_named() -> None:
    """An endless device is not read for ever."""
    with pytest.raises(NoFileError, match="device"):
        open_file(Path("/dev/zero"))
    with pytest.raises(OSError, match="folder"):
        open_file(Path("/"))


def test_a_socket_is_refused(tmp_path: Path) -> None:
    """A socket cannot be opened, and that is said as for a missing file."""
    with socket.socket(socket.AF_UNIX) as server:
        os.chdir(tmp_path)
        server.bind("s")
        assert not is_readable(tmp_path / "s")


def test_a_dangling_link_and_a_loop_are_missing_files(tmp_path: Path) -> None:
    """Neither is readable, and neither hangs."""
    (tmp_path / "gone").symlink_to(tmp_path / "nowhere")
    (tmp_path / "loop").symlink_to("loop")
    assert not is_readable(tmp_path / "gone")
    assert not is_readable(tmp_path / "loop")


def test_a_sparse_giant_is_refused(tmp_path: Path) -> None:
    """5 GB of holes are not read."""
    path = tmp_path / "giant"
    with path.open("wb") as file:
        file.truncate(5_000_000_000)
    with pytest.raises(NoFileError, match="sparse file: 5 GB"):
        open_file(path)


def test_a_limit_of_size_is_kept(tmp_path: Path) -> None:
    """A file of people larger than such files are is refused."""
    (tmp_path / "a").write_bytes(b"x" * 11)
    with pytest.raises(NoFileError, match="larger than"):
        read_file_bytes(tmp_path / "a", most=10)
