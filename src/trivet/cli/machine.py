"""Say whether this machine has what an installation needs; run before anything is installed.

Standard library only: at this moment there is no environment yet.
"""

import ctypes
import importlib.util
import sys

MINIMUM_PYTHON = (3, 11)
LIBRARIES = {
    "libgobject-2.0.so.0": "libglib2.0-0",
    "libpango-1.0.so.0": "libpango-1.0-0",
    "libpangoft2-1.0.so.0": "libpangoft2-1.0-0",
    "libharfbuzz.so.0": "libharfbuzz0b",
    "libfontconfig.so.1": "libfontconfig1",
}
"""Shared libraries that the PDF is made with, and the Debian packages that bring them."""


def problems() -> list[str]:
    """Everything that is missing, one sentence each, with what to do about it."""
    found = []
    if sys.version_info < MINIMUM_PYTHON:
        wanted, here = ".".join(map(str, MINIMUM_PYTHON)), sys.version.split()[0]
        found.append(
            f"Python {wanted} or newer is needed; this is {here}. Install a newer one and name it: "
            f"make PYTHON=python{wanted} demo"
        )
    if importlib.util.find_spec("ensurepip") is None:
        found.append("Python's venv can't make environments here: apt-get install python3-venv")
    missing = [package for library, package in LIBRARIES.items() if not _loads(library)]
    if missing:
        found.append(
            "The PDF needs system libraries that are not installed: apt-get install "
            + " ".join(missing)
        )
    return found


def _loads(library: str) -> bool:
    """Whether a shared library can be loaded."""
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def main() -> int:
    """Print what is missing; 2 where something is."""
    found = problems()
    for problem in found:
        print(problem, file=sys.stderr)
    return 2 if found else 0


if __name__ == "__main__":
    sys.exit(main())
