"""`trivet`: check a campaign folder, or make a new one."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from trivet import __version__
from trivet.cli.check import check
from trivet.cli.layout import layout
from trivet.cli.new import new
from trivet.errors import EXIT_INPUT, InputError, Problem


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
    command = commands.add_parser(
        "layout",
        help="propose how raw files are laid out, with the evidence for each line",
        description="Propose a layout as YAML to paste. What can't be told is asked, and the "
        "exit status is 2 then.",
    )
    command.add_argument("files", type=Path, nargs="+", metavar="FILE", help="raw file")
    given = parser.parse_args(argv)
    try:
        if given.command == "layout":
            text, questions = layout(given.files)
            print(text)
            return _asked(questions)
        print({"check": check, "new": new}[given.command](given.folder))
    except InputError as error:
        print(error, file=sys.stderr)
        return EXIT_INPUT
    return 0


def _asked(questions: Sequence[Problem]) -> int:
    """Exit status, after what only a person can answer was asked."""
    for question in questions:
        print(question, file=sys.stderr)
    return EXIT_INPUT if questions else 0


if __name__ == "__main__":
    sys.exit(main())
