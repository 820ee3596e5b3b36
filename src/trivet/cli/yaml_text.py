"""Settings as a person would type them: texts quoted where they must be, lines not too long."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence

WIDTH = 98
_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 _-]*")
_NO_TEXTS = ("y", "n", "yes", "no", "on", "off", "true", "false", "null", "none")
"""Words that YAML takes for something else than text."""


def wrapped(start: str, items: Sequence[str], end: str) -> Iterator[str]:
    """Items parted by commas, on lines that are not too long."""
    line = start
    for place, item in enumerate(items):
        piece = f"{item},"
        if place and len(line) + len(piece) + 1 > WIDTH:
            yield line
            line = f"       {piece}"
        else:
            line += f" {piece}" if place else piece
    yield f"{line[:-1]}{end}"


def text_in_yaml(value: str) -> str:
    """A text in YAML, in quotes where it needs them."""
    plain = _PLAIN.fullmatch(value) and value.casefold() not in _NO_TEXTS
    return value if plain else json.dumps(value, ensure_ascii=False)


def list_in_yaml(texts: Sequence[str]) -> str:
    """Texts as a list in YAML."""
    return f"[{', '.join(map(text_in_yaml, texts))}]"
