"""`trivet`: make and check a campaign folder, read its closing summary, check its archive."""

from __future__ import annotations

import argparse
import importlib
import io
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from trivet.errors import EXIT_INPUT, CannotWriteError, InputError, Problem, report_problems
from trivet.store.differences import Difference
from trivet.version import VERSION

EXIT_DIFFERS = 1
"""Exit status of a check that found something else than it should."""

_EPILOG = """\
To run a campaign: trivet run FOLDER

exit status:
  0  all is well; for verify and rerun: nothing differs
  1  verify and rerun: something differs, listed as file: what: expected, found
  2  the input can't be used, or a question is open; what is wrong is on the error stream
"""

_RUN = (
    "Run a campaign to its report and archive. What is current is not made again, and a run that "
    "was stopped or killed is taken up by the same command. Exit status: 0; 1 where a job failed; "
    "2 where the input can't be used."
)
_CHECK = (
    "Read settings, build sheet, bench log and the raw files as a run does, and run nothing: of "
    "each cell which column was taken for what, the proof of the current's sign, ranges against "
    "the limits, spectra, and what would be set aside. Exit status: 0 nothing is wrong; 2 the "
    "input can't be used, or a cell would be left without data, with every cause."
)
_VERIFY = (
    "Check the checksums and the completeness of an archive, its description, and that every table "
    "fits the description of its columns. Changes nothing. Exit status: 0 nothing differs, 1 "
    "something differs, 2 it is no archive."
)
_RERUN = (
    "Rebuild the tables from the raw files of an archive in a temporary folder, with this version, "
    "and compare them value by value. Changes nothing in the archive. Exit status: 0 nothing "
    "differs, 1 something differs, 2 it can't be rebuilt, as where it holds only checksums of the "
    "raw files."
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command.

    Returns
    -------
    int
        0 where all is well, 1 where an archive differs, 2 where the input can't be used.
    """
    given = _parser().parse_args(argv)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A terminal that does not know a sign shows its number in place of a traceback.
            stream.reconfigure(errors="backslashreplace")
    try:
        status = _COMMANDS[given.command](given)
        sys.stdout.flush()
    except (InputError, CannotWriteError) as error:
        print(error, file=sys.stderr)
        return EXIT_INPUT
    except BrokenPipeError:
        # Who reads has seen enough, as `head` does; what is left is written nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        what = error.filename or "the surroundings"
        print(Problem(str(what), f"{error.strerror or error}."), file=sys.stderr)
        return EXIT_INPUT
    return status


def _command(name: str) -> Callable[..., Any]:
    """The function of a command, which bears the name of its module.

    The module is imported only now: to import those of all commands takes longer than to see that a
    run has nothing to do.
    """
    found: Callable[..., Any] = getattr(importlib.import_module(f"trivet.cli.{name}"), name)
    return found


def _printed(text: str) -> int:
    """Print what a command found; nothing is wrong."""
    print(text)
    return 0


def _run(given: argparse.Namespace) -> int:
    """Run a campaign."""
    status: int = _command("run")(
        given.folder,
        reports=given.reports,
        cores=given.cores,
        data_cut=given.data_cut,
        further=given.further,
    )
    return status


def _check(given: argparse.Namespace) -> int:
    """Read a campaign dry; what would leave a cell without data goes to the error stream."""
    text, problems = _command("check")(given.folder, whole=given.all)
    print(text)
    if problems:
        sys.stdout.flush()
        print(report_problems(problems), file=sys.stderr)
    return EXIT_INPUT if problems else 0


def _layout(given: argparse.Namespace) -> int:
    """Propose layouts, and ask what is open."""
    text, questions = _command("layout")(given.files)
    print(text)
    for question in questions:
        print(question, file=sys.stderr)
    return EXIT_INPUT if questions else 0


def _compared(text: str, differences: Sequence[Difference]) -> int:
    """Print what was compared and what differs; the exit status."""
    print(text)
    for difference in differences:
        print(f"  {difference}")
    found = len(differences)
    plural = "" if found == 1 else "s"
    print(f"{found} difference{plural} found." if found else "Nothing differs.")
    return EXIT_DIFFERS if differences else 0


_COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "new": lambda given: _printed(
        _command("new_from")(given.folder, given.raw)
        if given.raw
        else _command("new")(given.folder)
    ),
    "check": _check,
    "layout": _layout,
    "run": _run,
    "summary": lambda given: _printed(_command("summary")(given.folder)),
    "export": lambda given: _printed(_command("export")(given.folder, given.to)),
    "overview": lambda given: _printed(_command("overview")(given.folders, given.to)),
    "explain": lambda given: _printed(_command("explain")(" ".join(given.word))),
    "verify": lambda given: _compared(*_command("verify")(given.bag)),
    "rerun": lambda given: _compared(*_command("rerun")(given.bag, cores=given.cores)),
}
"""What each command does; its exit status."""


def _parser() -> argparse.ArgumentParser:
    """The commands and what each takes."""
    parser = argparse.ArgumentParser(
        prog="trivet",
        description="From a folder of raw files and a build sheet to an honest report on "
        "hand-built three-electrode coin cells.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"trivet {VERSION}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _add_first_hour(commands)
    help_text = "say in a few lines what a run found: verdicts, findings, where the report lies"
    description = f"{help_text[0].upper()}{help_text[1:]}. Exit status: 0, or 2 with the reason."
    command = commands.add_parser("summary", help=help_text, description=description)
    command.add_argument("folder", type=Path, help="folder with the results, reports/<id>")
    _add_run(commands)
    _add_results(commands)
    _add_explain(commands)
    for name, help_text, description in (
        ("verify", "check an archive: every checksum, every part, every table", _VERIFY),
        ("rerun", "rebuild the tables of an archive from its raw files, and compare", _RERUN),
    ):
        command = commands.add_parser(name, help=help_text, description=description)
        command.add_argument("bag", type=Path, metavar="BAG", help="folder that holds bagit.txt")
    command.add_argument("--cores", type=int, default=2, help="jobs at a time (default 2)")
    return parser


def _add_first_hour(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The commands that make a campaign folder and look at it before a run."""
    command = commands.add_parser(
        "new",
        help="write a campaign folder to fill in, from the files that are there already",
        description="Write a commented campaign folder to fill in. With --from RAW: look at the "
        "files there, group them by layout, find the cells in their names, and write only the "
        "settings that are needed, with what is open marked 'decide'. Exit status: 0, or 2 with "
        "the reason.",
    )
    command.add_argument("folder", type=Path, help="campaign folder")
    command.add_argument(
        "--from", dest="raw", type=Path, metavar="RAW", help="folder of exported raw files"
    )
    command = commands.add_parser(
        "check",
        help="read a campaign folder dry, and say everything that is wrong with it",
        description=_CHECK,
    )
    command.add_argument("folder", type=Path, help="campaign folder")
    command.add_argument(
        "--all", action="store_true", help="read large files whole, not just head and tail"
    )
    command = commands.add_parser(
        "layout",
        help="propose how raw files are laid out, with the evidence for each line",
        description="Propose a layout as YAML to paste. What can't be told is asked, and the "
        "exit status is 2 then.",
    )
    command.add_argument("files", type=Path, nargs="+", metavar="FILE", help="raw file")


def _add_run(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The command that runs a campaign."""
    command = commands.add_parser(
        "run",
        help="from the campaign folder to its report; take up again what was stopped",
        description=_RUN,
    )
    command.add_argument("folder", type=Path, help="campaign folder")
    command.add_argument(
        "--reports",
        type=Path,
        default=Path("reports"),
        help="where the results get a folder named as the campaign's id (default: reports, here)",
    )
    command.add_argument("--cores", default="all", help="jobs at a time (default: all)")
    command.add_argument("--data-cut", help="moment up to which data count, as 2026-05-15")
    command.add_argument(
        "further", nargs="*", metavar="ARGUMENT", help="behind --: arguments for Snakemake"
    )


def _add_results(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The commands that give results on."""
    command = commands.add_parser(
        "export",
        help="one workbook of the main tables, and the figures as SVG and PNG for slides",
        description="Write the main tables as one workbook (.xlsx), a sheet a table, and the "
        "report's figures as SVG and PNG. Changes nothing in FOLDER. Exit status: 0, or 2 with "
        "the reason.",
    )
    command.add_argument("folder", type=Path, help="folder with the results, or an archive")
    command.add_argument(
        "--to", type=Path, metavar="DIR", help="folder to write into (default: <id>-export, here)"
    )
    command = commands.add_parser(
        "overview",
        help="several campaigns side by side: questions, verdicts, lives by group over data cuts",
        description="Put results side by side, by data cut: question, variants, cells, verdicts, "
        "and lives by group. With --to DIR also as CSV and as one page of PDF. Changes nothing in "
        "the folders. Exit status: 0, or 2 with the reason.",
    )
    command.add_argument(
        "folders", type=Path, nargs="+", metavar="FOLDER", help="folder with results, or an archive"
    )
    command.add_argument("--to", type=Path, metavar="DIR", help="folder to write into")


def _add_explain(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The command that explains a word."""
    command = commands.add_parser(
        "explain",
        help="say what a column, a setting or a word of the report means",
        description="Meaning, unit and origin of any column, table, setting or word of the "
        "report, as `trivet explain retention` or `trivet explain cycling.ageing_rate`. "
        "Exit status: 0, or 2 where nothing bears that name.",
    )
    command.add_argument("word", nargs="+", metavar="WORD", help="what to explain")


if __name__ == "__main__":
    sys.exit(main())
