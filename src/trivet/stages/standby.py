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
import sys
from collections.abc import Sequence

ADDRESS = "TRIVET_STANDBY"
"""Variable of the surroundings with the name of the socket; only jobs of a run have it."""
LENGTH = struct.Struct("Q")
"""How long the text of a job is [B]; comes first, together with the streams."""
DECLINED = b"declined"
"""Answer to a job that is not taken: it is then done where it was given."""
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
    name = os.environ.get(ADDRESS)
    if not name:
        return None
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as line:
        try:
            line.connect(f"\0{name}")
        except OSError:
            return None
        if user_at_the_end_of(line) != os.getuid():
            return None
        answer = _answer_to(arguments, line)
    if answer == DECLINED:
        return None
    if not answer:
        sys.stderr.write("the process of this job was killed; give the same command again\n")
        return 1
    return int(answer)


def _answer_to(arguments: Sequence[str], line: socket.socket) -> bytes:
    """Send a job with the streams it prints to; wait for what it ends with, nothing if killed."""
    given = {
        "arguments": list(arguments),
        "folder": os.getcwd(),
        "surroundings": dict(os.environ),
    }
    text = json.dumps(given).encode()
    try:
        socket.send_fds(line, [LENGTH.pack(len(text))], [0, 1, 2])
        line.sendall(text)
        return line.recv(len(DECLINED))
    except OSError:
        return b""


def user_at_the_end_of(line: socket.socket) -> int:
    """Number of the user whose process is at the other end of a local socket."""
    kept = line.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, _PEER.size)
    return int(_PEER.unpack(kept)[1])
