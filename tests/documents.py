"""Blocks of code in documents, and how to run them as a reader would."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

from campaign_runs import ROOT

_BLOCK = re.compile(r"^```(sh|python)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_COMMANDS = """\
set -e
trivet() {{ "{python}" -W ignore::UserWarning -m trivet.cli.main "$@"; }}
python() {{ "{python}" "$@"; }}
"""


def blocks(document: str, section: str = "") -> list[tuple[str, str]]:
    """Language and code of each block, in order; of one section where it is named."""
    text = (ROOT / document).read_text(encoding="utf-8")
    if section:
        text = text.split(f"\n## {section}\n")[1].split("\n## ")[0]
    return _BLOCK.findall(text)


def run_shell(code: str, work: Path) -> str:
    """Run commands in a folder; what they printed. A command that fails fails the test."""
    done = subprocess.run(
        ["bash", "-c", _COMMANDS.format(python=sys.executable) + code],
        cwd=work, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False,
    )  # fmt: skip
    assert done.returncode == 0, f"{code}\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}"
    return done.stdout


def run_python(code: str, work: Path) -> str:
    """Run code in a process of its own in a folder; what it printed."""
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=work, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False,
    )  # fmt: skip
    assert done.returncode == 0, f"{code}\n{done.stderr[-2000:]}"
    return done.stdout
