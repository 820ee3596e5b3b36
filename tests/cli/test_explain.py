"""`trivet explain` knows every column, setting and word."""

from __future__ import annotations

import pytest

from trivet.cli.explain import explain
from trivet.cli.main import main
from trivet.schema.glossary import GLOSSARY
from trivet.schema.tables.dictionary import TABLES


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("retention", "column of cycles"),
        ("cycles.retention", "trivet.science"),
        ("ageing_rate", "cycling.ageing_rate"),
        ("lifetime.capacity.retention_below", "default: 0.8"),
        ("equivalent", "verdict of a comparison"),
        ("lost", "trust of a reference"),
        ("cycles", "(table)"),
        ("leads exchanged", "an event, as the bench log has it"),
        ("open circuit", "a cause of an end"),
        ("crimped_at", "column of the build sheet"),
    ],
)
def test_what_is_asked_is_said(word: str, said: str) -> None:
    """A column, a setting and a word each answer, by path or by their last part."""
    assert said in explain(word)


def test_every_column_and_word_is_known() -> None:
    """Nothing that a table or the report prints is without an explanation."""
    for table in TABLES.values():
        for column in table.columns:
            assert column.meaning in " ".join(explain(f"{table.name}.{column.name}").split())
    for word in GLOSSARY:
        assert word in explain(word)


def test_an_unknown_word_is_answered_with_a_near_one(capsys: pytest.CaptureFixture[str]) -> None:
    """A misspelt word ends with 2 and the name that was meant."""
    assert main(["explain", "retnetion"]) == 2
    assert "Did you mean 'retention'" in capsys.readouterr().err
