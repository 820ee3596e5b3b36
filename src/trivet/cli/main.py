"""`trivet`: check a campaign folder, or make a new one."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from trivet import __version__
from trivet.cli.check import check
from trivet.cli.new import new
from trivet.errors import EXIT_INPUT, InputError


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command.

    Returns
    -------
    int
        0 where all is well, 2 where the input can't be used.
    """
    parser = argparse.ArgumentParser(
        prog="trivet",
        description="From a folder of raw files and a build sheet to an honest report on "
        "hand-built three-electrode coin cells.",
        epilog="To run a campaign: snakemake --cores all --config campaign=FOLDER",
    )
    parser.add_argument("--version", action="version", version=f"trivet {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, help_text in (
        ("check", "say everything that is wrong with a campaign folder, and run nothing"),
        ("new", "write a commented campaign folder to fill in"),
    ):
        command = commands.add_parser(name, help=help_text, description=help_text)
        command.add_argument("folder", type=Path, help="campaign folder")
    given = parser.parse_args(argv)
    action = {"check": check, "new": new}[given.command]
    try:
        print(action(given.folder))
    except InputError as error:
        print(error, file=sys.stderr)
        return EXIT_INPUT
    return 0


if __name__ == "__main__":
    sys.exit(main())
