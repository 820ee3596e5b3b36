"""What stands behind `--config`, as it was typed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from trivet.errors import InputError, Problem


def as_typed(config: Mapping[str, Any], arguments: Sequence[str]) -> dict[str, str]:
    """Options as the person typed them: `2026_05`, `007` and `1e3` are names, not numbers.

    Raises
    ------
    InputError
        An option was read as something other than text, and what was typed is not known.
    """
    out, problems = dict[str, str](), []
    for name, value in config.items():
        typed = [one.partition("=")[2] for one in arguments if one.startswith(f"{name}=")]
        if isinstance(value, str | Path):
            out[name] = str(value)
        elif typed:
            out[name] = typed[-1]
        else:
            hint = f"Put the text into quotes: --config '{name}=\"...\"'."
            problems.append(Problem("--config", f"'{name}' was read as {value!r}.", hint=hint))
    if problems:
        raise InputError(problems)
    return out
