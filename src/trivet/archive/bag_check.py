"""Check a bag: its declaration, completeness and checksums; nothing is written, nothing fetched."""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

from trivet.errors import InputError, Problem
from trivet.store.differences import Difference
from trivet.store.regular_file import open_file, read_file_bytes

_DECLARATION = re.compile(
    r"BagIt-Version: (\d+)\.(\d+)\r?\nTag-File-Character-Encoding: UTF-8\r?\n?"
)
_LINE = re.compile(r"([0-9a-fA-F]+)[ \t]+\*?(.+)")
_MANIFEST = re.compile(r"(tag)?manifest-([a-z0-9]+)\.txt")
_ESCAPED = {"%0A": "\n", "%0D": "\r", "%25": "%"}


def check_bag(folder: Path) -> tuple[int, list[Difference]]:
    """Compare a bag with its manifests.

    Parameters
    ----------
    folder : Path
        Folder of the bag.

    Returns
    -------
    checked : int
        Files whose checksum was computed.
    differences : list of Difference
        Everything that differs, in the order of the files.

    Raises
    ------
    InputError
        The folder is no bag.

    References
    ----------
    RFC 8493, sections 2.1 (structure), 2.2 (optional elements), 3 (complete and valid bags) and
    5.1 (paths that lead out of the bag).
    """
    if not (folder / "bagit.txt").is_file():
        hint = "Give the folder that holds bagit.txt, reports/<id>/archive after a run."
        raise InputError([Problem(str(folder), "is no bag: it has no bagit.txt.", hint=hint)])
    files = _files(folder)
    differences = list(_declared(folder))
    listed: dict[str, dict[str, str]] = {}
    for name in sorted(path for path in files if _MANIFEST.fullmatch(path)):
        sums, wrong = _read_manifest(folder, name)
        listed[name] = sums
        differences += wrong
    differences += _complete(files, listed)
    cache: dict[tuple[str, str], str] = {}
    for manifest, sums in listed.items():
        algorithm = manifest.rpartition("-")[2].removesuffix(".txt")
        for path, expected in sorted(sums.items()):
            if path not in files:
                differences.append(Difference(path, "file", f"as {manifest} lists", "none"))
                continue
            found = cache.setdefault((algorithm, path), _checksum(folder / path, algorithm))
            if found != expected:
                differences.append(Difference(path, algorithm, expected, found))
    differences += _size(folder, files)
    return len({path for _, path in cache}), sorted(differences, key=lambda one: one.file)


def _files(folder: Path) -> list[str]:
    """Paths of all files, sorted; links are not followed."""
    found = []
    for root, folders, names in os.walk(folder):
        folders.sort()
        linked = [name for name in folders if (Path(root) / name).is_symlink()]
        found += [(Path(root) / name).relative_to(folder).as_posix() for name in [*names, *linked]]
    return sorted(found)


def _declared(folder: Path) -> Iterator[Difference]:
    """What is wrong with the declaration; files that must be fetched are refused."""
    text = read_file_bytes(folder / "bagit.txt").decode("utf-8", "replace")
    if not _DECLARATION.fullmatch(text):
        yield Difference("bagit.txt", "declaration", "BagIt-Version and UTF-8", repr(text[:80]))
    if (folder / "fetch.txt").exists():
        yield Difference("fetch.txt", "files to be fetched", "none", "a list of them")


def _read_manifest(folder: Path, name: str) -> tuple[dict[str, str], list[Difference]]:
    """Checksum by path, and lines that can't be used."""
    sums: dict[str, str] = {}
    wrong = []
    text = read_file_bytes(folder / name).decode("utf-8", "replace")
    tag = name.startswith("tag")
    for number, line in enumerate(re.split(r"\r\n|\r|\n", text), start=1):
        if not line:
            continue
        match = _LINE.fullmatch(line)
        path = _decoded(match.group(2)) if match else ""
        if match is None or not _is_below(path) or path.startswith("data/") == tag:
            what = f"line {number}"
            wrong.append(Difference(name, what, "checksum and path in the bag", repr(line[:200])))
        else:
            sums[path] = match.group(1).lower()
    return sums, wrong


def _decoded(path: str) -> str:
    """Path with the escaped signs of a manifest as they are."""
    return re.sub("%(0A|0D|25)", lambda found: _ESCAPED[found.group(0)], path, flags=re.IGNORECASE)


def _is_below(path: str) -> bool:
    """Whether a path stays in the bag."""
    parts = PurePosixPath(path).parts
    return bool(parts) and not path.startswith(("/", "~")) and ".." not in parts


def _complete(files: list[str], listed: dict[str, dict[str, str]]) -> Iterator[Difference]:
    """Payload files that a manifest does not list, links, and manifests that lack."""
    payload = [name for name in listed if not name.startswith("tag")]
    if not payload:
        yield Difference("manifest-sha256.txt", "file", "a manifest of the payload", "none")
    for path in files:
        if path.startswith("data/"):
            for name in payload:
                if path not in listed[name]:
                    yield Difference(path, "file", f"none, since {name} lists none", "a file")


def _checksum(path: Path, algorithm: str) -> str:
    """Checksum of a file; what hinders it in its place."""
    if algorithm not in hashlib.algorithms_guaranteed:
        return f"unknown algorithm {algorithm}"
    if path.is_symlink():
        return "a link"
    try:
        with open_file(path) as file:
            return hashlib.file_digest(file, algorithm).hexdigest()
    except OSError as error:
        return f"unreadable: {error.strerror}"


def _size(folder: Path, files: list[str]) -> Iterator[Difference]:
    """Whether the payload has as many bytes and files as the bag says of itself."""
    path = folder / "bag-info.txt"
    if not path.is_file():
        return
    said = read_file_bytes(path).decode("utf-8", "replace")
    match = re.search(r"(?m)^Payload-Oxum: *(\S+)", said)
    payload = [folder / name for name in files if name.startswith("data/")]
    found = f"{sum(one.lstat().st_size for one in payload)}.{len(payload)}"
    if match and match.group(1) != found:
        yield Difference("bag-info.txt", "Payload-Oxum", match.group(1), found)
