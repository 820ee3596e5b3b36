"""Snakemake in a process that has imported it and waits: of a dry run, imports are more than half.

Each call is a fork of that process, with folder, surroundings and arguments of its own, so that
nothing of one is left for the next.
"""

from __future__ import annotations

import atexit
import json
import os
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Sequence
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any


def called(arguments: Sequence[str], folder: Path) -> subprocess.CompletedProcess[str]:
    """Call Snakemake with arguments in a folder, as `python -m snakemake` would be."""
    with tempfile.TemporaryDirectory() as spare:
        out, err = Path(spare, "out"), Path(spare, "err")
        call = {
            "arguments": list(arguments),
            "folder": str(folder),
            "surroundings": dict(os.environ),
            "files": [os.devnull, str(out), str(err)],
        }
        server = _server()
        assert server.stdin is not None
        assert server.stdout is not None
        server.stdin.write(json.dumps(call) + "\n")
        server.stdin.flush()
        status = int(server.stdout.readline())
        return subprocess.CompletedProcess(
            call["arguments"], status, out.read_text("utf-8"), err.read_text("utf-8")
        )


@cache
def _server() -> subprocess.Popen[str]:
    """The process that waits; it ends with this one."""
    server = subprocess.Popen(
        [sys.executable, __file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    atexit.register(server.communicate)
    return server


def _serve() -> None:
    """Fork for each line, and answer with the exit status."""
    main = import_module("snakemake.cli").main
    # what the rules import
    import_module("trivet.cli.summary")
    import_module("trivet.workflow.run")
    for line in sys.stdin:
        child = os.fork()
        if not child:
            _become(json.loads(line), main)
        print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)  # noqa: T201


def _become(call: dict[str, Any], main: Any) -> None:
    """Be the process that was asked for, to its end."""
    status = 1
    try:
        for number, path in enumerate(call["files"]):
            os.dup2(os.open(path, (os.O_WRONLY | os.O_CREAT) if number else os.O_RDONLY), number)
        os.chdir(call["folder"])
        os.environ.clear()
        os.environ.update(call["surroundings"])
        sys.argv = ["snakemake", *call["arguments"]]
        main(call["arguments"])
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else int(end.code is not None)
    except Exception:  # noqa: BLE001 (told, and the process ends)
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)


if __name__ == "__main__":
    _serve()
