"""A raw file as clean text in blocks: its checksum, encoding and line ends."""

from __future__ import annotations

import codecs
import csv
import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from trivet.rawfiles.text.encodings import is_wide, text_encoding
from trivet.store.regular_file import open_regular

BLOCK_BYTES = 2_000_000
"""So many bytes of a file are held at a time; a longer line is held whole."""
_SLICE = 131_072
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
    """Text of a file, read block by block whenever it is asked for.

    Attributes
    ----------
    source : Path or bytes
        The file, or text that was made of it.
    size : int
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
    start : int
        Bytes of the byte order mark.
    as_it_is : bool
        Whether the bytes are UTF-8 already.
    """

    source: Path | bytes
    size: int
    sha256: str
    encoding: str = "utf-8"
    from_mark: bool = False
    undecodable: tuple[int, ...] = ()
    zero_byte: int = -1
    inferred: bool = False
    start: int = 0
    as_it_is: bool = True

    def blocks(self) -> Iterator[tuple[int, bytes]]:
        """Whole lines of the text, block by block, each with the number of its first line.

        Yields
        ------
        tuple of int and bytes
            UTF-8 with line feeds only. Just the last block may end without a line end.

        Raises
        ------
        OSError, RawFileError
            The file can't be read any more, or became shorter since it was opened.
        """
        return _in_lines(_with_line_feeds(self._pieces()))

    def head(self) -> bytes:
        """Give the first block; empty without any text."""
        return next(self.blocks(), (1, b""))[1]

    def _pieces(self) -> Iterator[bytes]:
        """The text in UTF-8, cut anywhere."""
        if isinstance(self.source, bytes):
            return iter((self.source,))
        raw = _read(self.source, self.start, self.size)
        return raw if self.as_it_is else _decoded(raw, self.encoding, "replace")


def made_text(data: bytes, *, raw: bytes) -> RawText:
    """Text that was made of the bytes of a file that is none."""
    return RawText(data, len(raw), hashlib.sha256(raw).hexdigest())


def read_text(path: Path, *, encoding: str) -> RawText:
    """Read a file: by its byte order mark, else as UTF-8 where it is that, else as declared.

    The file is looked through once for its size, checksum and encoding; what is written behind
    that size later does not belong to the text.

    Raises
    ------
    OSError
        The file can't be read.
    LookupError
        The declared encoding is not known, or none of text.
    """
    meant = text_encoding(encoding)
    digest, size, zero_byte = hashlib.sha256(), 0, -1
    head, start, ascii_only = b"", 0, True
    utf8 = codecs.getincrementaldecoder("utf-8")()
    valid = True
    for piece in _read(path, 0, None):
        if not size:
            start = len(next((sign for sign, _ in _BOMS if piece.startswith(sign)), b""))
            head = piece[: start + _LOOKED_AT]
        if zero_byte < 0 and (found := piece.find(b"\0")) >= 0:
            zero_byte = size + found
        digest.update(piece)
        content = piece if size else piece[start:]
        size += len(piece)
        ascii_only = ascii_only and content.isascii()
        valid = valid and (ascii_only or _continues(utf8, content))
    valid = valid and _continues(utf8, b"", final=True)
    mark = next((name for sign, name in _BOMS if head.startswith(sign)), "")
    used = mark or _unmarked(head, meant, ascii_only=ascii_only, utf8=valid)
    wide = is_wide(used)
    as_it_is = ascii_only and not wide
    as_it_is = as_it_is or (valid and codecs.lookup(used).name == "utf-8")
    text = RawText(
        source=path,
        size=size,
        sha256=digest.hexdigest(),
        encoding=used,
        from_mark=bool(mark),
        zero_byte=-1 if wide else zero_byte,
        inferred=not mark and codecs.lookup(used) != codecs.lookup(meant),
        start=start,
        as_it_is=as_it_is,
    )
    return text if as_it_is else _with_broken_lines(text)


def _read(path: Path, start: int, stop: int | None) -> Iterator[bytes]:
    """Bytes of a file from one position to another, or to its end."""
    with open_regular(path) as file:
        file.seek(start)
        at = start
        while stop is None or at < stop:
            wanted = BLOCK_BYTES if stop is None else min(BLOCK_BYTES, stop - at)
            piece = file.read(wanted)
            if not piece and stop is not None:
                message = f"the file became shorter than {stop} bytes while it was read"
                raise RawFileError("unreadable file", message)
            if not piece:
                return
            at += len(piece)
            yield piece


def _continues(decoder: codecs.IncrementalDecoder, content: bytes, *, final: bool = False) -> bool:
    """Whether bytes go on as a decoder expects."""
    try:
        decoder.decode(content, final)
    except UnicodeDecodeError:
        return False
    return True


def _unmarked(head: bytes, declared: str, *, ascii_only: bool, utf8: bool) -> str:
    """Encoding of bytes without a mark; text in two-byte signs betrays itself by its zeros."""
    values = np.frombuffer(head[:_LOOKED_AT], dtype=np.uint8)
    for first, name in ((1, "utf-16-le"), (0, "utf-16-be")):
        zeros, others = values[first::2], values[1 - first :: 2]
        if len(zeros) > 1 and np.mean(zeros == 0) > _MOSTLY and np.mean(others == 0) < 1 - _MOSTLY:
            return name
    if ascii_only or is_wide(declared):
        return declared
    return "utf-8" if utf8 else declared


def _with_broken_lines(text: RawText) -> RawText:
    """The same with the lines whose bytes are not all of its encoding."""
    assert isinstance(text.source, Path)
    try:
        for _ in _decoded(_read(text.source, text.start, text.size), text.encoding, "strict"):
            pass
    except UnicodeDecodeError:
        sign = "\ufffd".encode()
        lines = tuple(
            number
            for first, block in text.blocks()
            for number, line in enumerate(block.split(b"\n"), start=first)
            if sign in line
        )
        return RawText(**{**vars(text), "undecodable": lines})
    return text


def _decoded(pieces: Iterator[bytes], encoding: str, errors: str) -> Iterator[bytes]:
    """Bytes of an encoding as UTF-8."""
    decoder = codecs.getincrementaldecoder(encoding)(errors)
    for piece in pieces:
        yield decoder.decode(piece).encode("utf-8", "replace")
    yield decoder.decode(b"", True).encode("utf-8", "replace")


def _with_line_feeds(pieces: Iterator[bytes]) -> Iterator[bytes]:
    """Text whose line ends are line feeds, a pair that is cut in two among them."""
    held = b""
    for piece in pieces:
        whole = held + piece if held else piece
        held = b"\r" if whole.endswith(b"\r") else b""
        whole = whole[:-1] if held else whole
        if b"\r" in whole:
            whole = whole.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        yield whole
    yield b"\n" if held else b""


def _in_lines(pieces: Iterator[bytes]) -> Iterator[tuple[int, bytes]]:
    """Text cut behind line ends, each block with the number of its first line."""
    line, waiting = 1, list[bytes]()
    for piece in pieces:
        cut = piece.rfind(b"\n") + 1
        if not cut:
            waiting.append(piece)
            continue
        block = b"".join([*waiting, piece[:cut]])
        waiting = [piece[cut:]]
        yield line, block
        line += count_lines(block)
    rest = b"".join(waiting)
    if rest:
        yield line, rest


def count_lines(block: bytes) -> int:
    """Line ends in a block."""
    signs = np.frombuffer(block, dtype=np.uint8)
    # Slices that stay in the processor's cache take half the time.
    return sum(
        int(np.count_nonzero(signs[at : at + _SLICE] == ord("\n")))
        for at in range(0, len(signs), _SLICE)
    )


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
