"""The interpreter of the jobs, by one name."""

from __future__ import annotations

import sys
from pathlib import Path


def interpreter() -> Path:
    """Give the path of the interpreter that runs; of its two names, always the same one.

    An environment has it as python and as python3: printed in commands by the one, results would
    be made again by the other.
    """
    own = Path(sys.executable)
    other = own.with_name("python3")
    return other if other.exists() and other.samefile(own) else own
