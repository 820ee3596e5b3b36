"""Settings of build sheet and bench log, proposed from the tables that people keep."""

from __future__ import annotations

from collections.abc import Iterator

from trivet.campaign.proposal.people_tables import PeoplesTable
from trivet.cli.yaml_text import list_in_yaml, text_in_yaml, wrapped

FACTOR = "variant"
"""Column of the factor in a build sheet that is begun here."""


def sheet_settings(sheet: PeoplesTable | None) -> Iterator[str]:
    """Lines of the block `build_sheet`.

    Parameters
    ----------
    sheet : PeoplesTable or None
        The build sheet that was found; None for one that is begun.
    """
    factors = ", ".join(map(text_in_yaml, _factors(sheet)))
    if sheet is None:
        yield f"build_sheet: {{factors: [{factors}]}}  # decide: columns of your sheet that differ"
        return
    yield "build_sheet:  # decide: whether these columns are meant"
    yield f"  file: {text_in_yaml(sheet.path.name)}"
    yield f"  factors: [{factors}]"
    yield from wrapped("  columns: {", _named(sheet), "}")


def log_settings(log: PeoplesTable | None) -> Iterator[str]:
    """Lines of the block `bench_log`; none where the log is the one that is begun.

    Parameters
    ----------
    log : PeoplesTable or None
        The bench log that was found.
    """
    if log is None:
        return
    yield "bench_log:  # decide: whether these columns and words are meant"
    yield f"  file: {text_in_yaml(log.path.name)}"
    yield from wrapped("  columns: {", _named(log), "}")
    words = [f"{ours}: {list_in_yaml(own)}" for ours, own in log.words.items()]
    if words:
        yield from wrapped("  words: {", words, "}")


def factor_settings(sheet: PeoplesTable | None) -> Iterator[str]:
    """Lines of the block `comparison`.

    Parameters
    ----------
    sheet : PeoplesTable or None
        The build sheet that was found.
    """
    if sheet is None:
        yield f"comparison: {{factors: [{{factor: {FACTOR}, control: decide}}]}}"
        return
    yield "comparison:"
    yield "  factors:"
    for factor, values in _factors(sheet).items():
        known = f"  # {', '.join(values)}" if values else ""
        yield f"    - {{factor: {text_in_yaml(factor)}, control: decide}}{known}"


def _factors(sheet: PeoplesTable | None) -> dict[str, tuple[str, ...]]:
    """Columns that may be build factors, with their values."""
    return sheet.groups if sheet is not None and sheet.groups else {FACTOR: ()}


def _named(table: PeoplesTable) -> list[str]:
    """Columns of a table by the names used here, in YAML."""
    return [
        f"{ours}: {text_in_yaml(own) if isinstance(own, str) else list_in_yaml(own)}"
        for ours, own in table.columns.items()
    ]
