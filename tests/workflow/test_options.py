"""Options behind --config are names: what YAML takes for a number stays as it was typed."""

from __future__ import annotations

import pytest

from trivet.errors import InputError
from trivet.workflow.options import as_typed


@pytest.mark.parametrize(("typed", "read"), [("2026_05", 202605), ("007", 7), ("1e3", 1000.0)])
def test_a_folder_whose_name_reads_as_a_number_is_that_folder(typed: str, read: object) -> None:
    """The name comes from the command line, not from what YAML made of it (YAML 1.1, int)."""
    arguments = ["snakemake", "--config", f"campaign={typed}"]
    assert as_typed({"campaign": read}, arguments) == {"campaign": typed}


def test_a_number_whose_typing_is_not_known_is_a_problem() -> None:
    """From a file of settings a number has lost its zeros: a question with the remedy."""
    with pytest.raises(InputError, match="Put the text into quotes"):
        as_typed({"campaign": 7}, [])
