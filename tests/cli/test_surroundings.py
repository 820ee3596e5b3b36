"""Odd surroundings: a pipe that closes, optimised bytecode, odd locales, no home; no traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

TRIVET = (sys.executable, "-m", "trivet.cli.main")


def outcome(*command: str, **environment: str) -> tuple[int, str, str]:
    """Exit status and what was printed."""
    done = subprocess.run(
        command, env=os.environ | environment, capture_output=True, text=True, check=False
    )
    return done.returncode, done.stdout, done.stderr


def test_a_reader_that_has_seen_enough_ends_it_silently() -> None:
    """As behind `| head`: the pipe is closed before the first line, and nothing is said."""
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        [*TRIVET, "explain", "retention"],
        stdout=writing,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    os.close(writing)
    assert (done.returncode, done.stderr) == (0, "")


def test_optimised_bytecode_says_the_same() -> None:
    """`-OO` strips the docstrings; what is explained does not rest on them."""
    plain = outcome(*TRIVET, "explain", "retention")
    stripped = outcome(sys.executable, "-OO", "-m", "trivet.cli.main", "explain", "retention")
    assert plain == stripped
    assert plain[0] == 0


@pytest.mark.parametrize("locale", ["C", "POSIX", "en_US.ISO-8859-1", "tr_TR.UTF-8"])
def test_every_locale_is_spoken_to(locale: str) -> None:
    """Signs that a terminal does not know never end in a traceback."""
    found = outcome(
        *TRIVET, "explain", "retention", LC_ALL=locale, PYTHONUTF8="0", PYTHONIOENCODING="ascii"
    )
    assert found[0] == 0
    assert "Traceback" not in found[2]


def test_without_a_home_and_with_warnings_as_errors_check_still_works(tmp_path: Path) -> None:
    """A missing home is nobody's fault, and the message names what is missing in the campaign."""
    found = outcome(
        sys.executable, "-W", "error", "-m", "trivet.cli.main", "check", str(tmp_path), HOME="/none"
    )
    assert found[0] == 2
    assert "campaign.yaml" in found[2]
    assert "Traceback" not in found[2]
