"""A raw file as clean text: its bytes, checksum, encoding and line ends."""

from __future__ import annotations

import codecs
import csv
import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

_LOOKED_AT = 4000
_MOSTLY = 0.9
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


class RawFileError(Exception):
    """A raw file can't be read as its layout says; the file is set aside.

    Parameters
    ----------
    check : str
        Name of the check for the finding.
    message : str
        One sentence for a person.
    line : int or None
        Line it is seen on.
    """

    def __init__(self, check: str, message: str, line: int | None = None) -> None:
        super().__init__(message)
        self.check, self.message, self.line = check, message, line


@dataclass(frozen=True)
class RawText:
    """Text of a file.

    Attributes
    ----------
    data : bytes
        UTF-8 with line feeds only.
    bytes : int
        Size of the file [B].
    sha256 : str
        Checksum of the file, hexadecimal.
    encoding : str
        Encoding it was read with.
    from_mark : bool
        Whether a byte order mark told the encoding.
    undecodable : tuple of int
        Lines with bytes that the encoding does not have.
    zero_byte : int
        Offset of the first byte that is zero, which no text has; -1 without.
    inferred : bool
        Whether the bytes told an encoding other than the declared one.
    """

    data: bytes
    bytes: int
    sha256: str
    encoding: str
    from_mark: bool
    undecodable: tuple[int, ...]
    zero_byte: int = -1
    inferred: bool = False


def read_text(path: Path, *, encoding: str) -> RawText:
    """Read a file: by its byte order mark, else as UTF-8 where it is that, else as declared.

    Raises
    ------
    OSError
        The file can't be read.
    LookupError
        The declared encoding is not known.
    """
    raw = path.read_bytes()
    codecs.lookup(encoding)
    mark = next(((sign, name) for sign, name in _BOMS if raw.startswith(sign)), None)
    content = raw[len(mark[0]) :] if mark else raw
    used = mark[1] if mark else _unmarked(content, encoding)
    data, broken = _as_utf8(content, used)
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    sign = "\ufffd".encode()
    lines = enumerate(data.split(b"\n"), start=1) if broken else ()
    wide = used.startswith("utf-16")
    return RawText(
        data=data,
        bytes=len(raw),
        sha256=hashlib.sha256(raw).hexdigest(),
        encoding=used,
        from_mark=mark is not None,
        undecodable=tuple(number for number, line in lines if sign in line),
        zero_byte=-1 if wide else raw.find(b"\0"),
        inferred=mark is None and codecs.lookup(used) != codecs.lookup(encoding),
    )


def _unmarked(content: bytes, declared: str) -> str:
    """Encoding of bytes without a mark; text in two-byte signs betrays itself by its zeros."""
    head = np.frombuffer(content[:_LOOKED_AT], dtype=np.uint8)
    for first, name in ((1, "utf-16-le"), (0, "utf-16-be")):
        zeros, others = head[first::2], head[1 - first :: 2]
        if len(zeros) > 1 and np.mean(zeros == 0) > _MOSTLY and np.mean(others == 0) < 1 - _MOSTLY:
            return name
    if content.isascii() or "utf-16" in declared.casefold():
        return declared
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return declared
    return "utf-8"


def _as_utf8(content: bytes, encoding: str) -> tuple[bytes, bool]:
    """Content as UTF-8, and whether any byte was not of its encoding."""
    plain = content.isascii() and not encoding.startswith("utf-16")
    try:
        if plain or codecs.lookup(encoding).name == "utf-8":
            if not plain:
                content.decode("utf-8")
            return content, False
        return content.decode(encoding).encode("utf-8", errors="replace"), False
    except UnicodeDecodeError:
        return content.decode(encoding, errors="replace").encode("utf-8", "replace"), True


def split_line(line: str, delimiter: str) -> list[str] | None:
    """Fields of one line, quotes as in RFC 4180; None where the quotes make no sense.

    A blank as delimiter stands for a run of blanks.
    """
    if delimiter == " ":
        line = re.sub("[ \t]+", " ", line).strip(" ")
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter, strict=True))
    except csv.Error:
        return None
