"""Encodings that text files are written in."""

from __future__ import annotations

import codecs

_NO_TEXT = ("idna", "punycode", "undefined")
"""Names that Python has among its text encodings and no file is written in."""
_WITHOUT_MARK = {"utf-16": "utf-16-le", "utf-32": "utf-32-le"}


def is_wide(name: str, /) -> bool:
    """Whether an encoding takes two bytes or more for every sign, so that zeros are of the text."""
    return codecs.lookup(name).name.startswith(("utf-16", "utf-32"))


def text_encoding(name: str, /) -> str:
    """Give the encoding that is meant by a name, the common one where a file lacks its mark.

    Parameters
    ----------
    name : str
        As declared; UTF-16 and UTF-32 without order are little-endian (common practice, no
        source).

    Raises
    ------
    LookupError
        There is no such encoding, or it is none of text.
    """
    known = codecs.lookup(name).name
    if known in _NO_TEXT:
        raise LookupError(f"{name} is no encoding of text files")
    b"a".decode(name, "replace")  # refuses codecs that give no text
    return _WITHOUT_MARK.get(known, name)
