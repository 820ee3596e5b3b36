"""Digest of the source that a stage is made of, so that an edit reruns just what depends on it."""

from __future__ import annotations

import ast
import hashlib
from functools import cache
from pathlib import Path

_ROOT = Path(__file__).resolve().parents[1]


def source_digest(module: str) -> str:
    """Digest over a module and every module of this package that it imports, in turn.

    Parameters
    ----------
    module : str
        Dotted name within this package, e.g. `trivet.stages.cycling.stage`.

    Returns
    -------
    str
        Twelve hexadecimal digits.

    Notes
    -----
    Import statements are followed, dynamic imports and installed libraries are not; the versions
    of those stand in the provenance. Files beside a package that are no modules (templates) count
    with the package.
    """
    digest = hashlib.sha256()
    for name in sorted(_closure(module)):
        for path in _files(name):
            digest.update(f"{name}/{path.name}\n".encode())
            digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()[:12]


def _closure(module: str) -> set[str]:
    """The module with everything of this package that it imports."""
    seen: set[str] = set()
    waiting = [module]
    while waiting:
        name = waiting.pop()
        if name in seen or _path(name) is None:
            continue
        seen.add(name)
        waiting += _imports(name)
        waiting.append(name.rpartition(".")[0] or name)
    return seen


@cache
def _imports(name: str) -> tuple[str, ...]:
    """Modules of this package that a module names in its import statements."""
    path = _path(name)
    if path is None:
        return ()
    found = []
    for node in ast.walk(ast.parse(path.read_bytes())):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module is not None:
            found.append(node.module)
            found += [f"{node.module}.{alias.name}" for alias in node.names]
    return tuple(name for name in found if name.split(".")[0] == "trivet")


def _path(name: str) -> Path | None:
    """File of a module or package of this package; None where there is none."""
    stem = _ROOT.joinpath(*name.split(".")[1:])
    for path in (stem.with_suffix(".py"), stem / "__init__.py"):
        if path.is_file():
            return path
    return None


def _files(name: str) -> list[Path]:
    """The module's file and, for a package, the files in its folders that are no modules."""
    path = _path(name)
    if path is None:
        return []
    beside = []
    if path.name == "__init__.py" and path.parent != _ROOT:
        beside = [
            file
            for file in sorted(path.parent.rglob("*"))
            if file.is_file() and file.suffix not in (".py", ".pyc")
        ]
    return [path, *beside]
