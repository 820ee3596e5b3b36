"""A job handed to the process that stands by, where its run has one.

Most of a job's processor time goes into imports. A run on one machine keeps a process that has
imported them already (`trivet.workflow.standby`) and forks it for each job. A command that is
pasted into a terminal, or that a cluster runs, finds nobody there and is a process of its own: same
code, same bytes.
"""

from __future__ import annotations

import json
import os
import socket
import struct
from collections.abc import Sequence

ADDRESS = "TRIVET_STANDBY"
"""Variable of the surroundings with name and secret of the socket; only jobs of a run have it."""
SECRET_LENGTH = 32
HEAD = struct.Struct(f"{SECRET_LENGTH}sQ")
"""What comes first, with the streams: the secret, and how long the text of the job is [B]."""
TAKEN = b"t"
"""First answer, as a job begins: whatever comes later, it is not to be begun a second time."""
DECLINED = b"-"
"""Second answer where it could not be begun after all; else the exit status."""
_PEER = struct.Struct("3i")
"""Process, user and group at the other end, as the kernel gives them."""


def handed_over(arguments: Sequence[str]) -> int | None:
    """Have a job done by the process that stands by, and wait for its end.

    Parameters
    ----------
    arguments : sequence of str
        Arguments of the job's command, behind the name of the module.

    Returns
    -------
    int or None
        Its exit status; None where nobody stands by, so that the job is still to be done.
    """
    name, _, secret = os.environ.get(ADDRESS, "").partition(":")
    if not secret:
        return None
    hold_standard_streams()
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as line:
        if not _is_taken(line, name, secret, arguments):
            return None
        answer = _end_of(line)
    if answer == DECLINED:
        return None
    if answer:
        return int(answer)
    os.write(2, b"the process of this job was killed; give the same command again\n")
    return 1


def _is_taken(line: socket.socket, name: str, secret: str, arguments: Sequence[str]) -> bool:
    """Ask for a job; whether it was taken, so that it is not to be begun here."""
    try:
        line.connect(f"\0{name}")
        if user_at_the_end_of(line) != os.getuid():
            return False
        _ask(line, arguments, secret)
        return line.recv(1) == TAKEN
    except OSError:
        return False


def _ask(line: socket.socket, arguments: Sequence[str], secret: str) -> None:
    """Send a job with the streams it prints to."""
    given = {
        "arguments": list(arguments),
        "folder": os.getcwd(),
        "surroundings": dict(os.environ),
    }
    text = json.dumps(given).encode()
    socket.send_fds(line, [HEAD.pack(secret.encode(), len(text))], [0, 1, 2])
    line.sendall(text)


def _end_of(line: socket.socket) -> bytes:
    """What a job that was taken ended with; nothing where it was killed."""
    try:
        return line.recv(8)
    except OSError:
        return b""


def user_at_the_end_of(line: socket.socket) -> int:
    """Number of the user whose process is at the other end of a local socket."""
    kept = line.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, _PEER.size)
    return int(_PEER.unpack(kept)[1])


def hold_standard_streams() -> None:
    """Open what is closed of input, output and error: else the next file would pass for it."""
    while (spare := os.open(os.devnull, os.O_RDWR)) <= 2:
        os.set_inheritable(spare, True)
    os.close(spare)
