"""Write a bag: a folder of files with their checksums, as RFC 8493 (BagIt 1.0) lays it out."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path

from trivet.store.checksums import sha256
from trivet.store.regular_file import open_regular

_DECLARATION = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


def write_bag(folder: Path, payload: Mapping[str, Path | bytes], info: Mapping[str, str]) -> None:
    """Write a bag anew; what stood in the folder before is replaced once the new one is whole.

    Parameters
    ----------
    folder : Path
        Folder of the bag.
    payload : mapping of str to Path or bytes
        Files below `data/` by their path there, as a file to copy or as content.
    info : mapping of str to str
        Lines of `bag-info.txt`.

    References
    ----------
    RFC 8493, sections 2.1.1 to 2.2.2 and 2.4 (percent-encoding of line ends in paths).
    """
    beside = folder.with_name(f".{folder.name}.new")
    shutil.rmtree(beside, ignore_errors=True)
    _fill(beside, payload, info)
    old = folder.with_name(f".{folder.name}.old")
    if folder.exists():
        shutil.rmtree(old, ignore_errors=True)
        folder.rename(old)
    beside.rename(folder)
    shutil.rmtree(old, ignore_errors=True)


def _fill(folder: Path, payload: Mapping[str, Path | bytes], info: Mapping[str, str]) -> None:
    """Write all files of a bag into a folder that is not there yet."""
    data = folder / "data"
    sums = {}
    size = 0
    for name in sorted(payload):
        target = data / name
        target.parent.mkdir(parents=True, exist_ok=True)
        source = payload[name]
        if isinstance(source, Path):
            with open_regular(source) as opened, target.open("wb") as copy:
                shutil.copyfileobj(opened, copy)
        else:
            target.write_bytes(source)
        size += target.stat().st_size
        sums[f"data/{name}"] = sha256(target)
    lines = {**info, "Payload-Oxum": f"{size}.{len(payload)}"}
    _write(folder / "bagit.txt", _DECLARATION)
    _write(folder / "bag-info.txt", "".join(f"{key}: {_flat(lines[key])}\n" for key in lines))
    _write(folder / "manifest-sha256.txt", _manifest(sums))
    tags = {
        name: sha256(folder / name) for name in ("bag-info.txt", "bagit.txt", "manifest-sha256.txt")
    }
    _write(folder / "tagmanifest-sha256.txt", _manifest(tags))


def _write(path: Path, text: str) -> None:
    """Write text with the line ends it has, on every system."""
    path.write_bytes(text.encode())


def _manifest(sums: Mapping[str, str]) -> str:
    """Lines of checksum and path, in the order of the paths."""
    return "".join(f"{sums[name]}  {_encoded(name)}\n" for name in sorted(sums))


def _encoded(name: str) -> str:
    """Path with the signs escaped that would break a line of the manifest."""
    return name.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")


def _flat(text: str) -> str:
    """Text on one line."""
    return " ".join(text.split())
