"""Digest of the source that a stage is made of, so that an edit reruns just what depends on it."""

from __future__ import annotations

import ast
import hashlib
import os
from collections.abc import Iterator
from functools import cached_property
from pathlib import Path

from trivet.store.checksums import sha256
from trivet.workflow.looked_at import LookedAt

_ANY = ".*"
"""Behind the name of a package: any of its modules."""
_ROOT = Path(__file__).resolve().parents[1]


class SourceFiles:
    """The files of this package, with what each holds and imports.

    Parameters
    ----------
    kept : Path or None
        File that keeps checksums and imports between runs: to parse the package anew takes a third
        of a run with nothing to do.
    root : Path
        Folder of the package.
    """

    def __init__(self, kept: Path | None = None, root: Path = _ROOT) -> None:
        self._root = root
        self._looked_at = LookedAt(kept, _look)

    def keep(self) -> None:
        """Write down what was found, for the next run."""
        self._looked_at.keep()

    def digest(self, module: str) -> str:
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
        Import statements are followed, and where modules of a package are imported by a name that
        is put behind it, all of that package count. Installed libraries are not followed; their
        versions stand in the provenance. Files beside a package that are no modules (templates)
        count with the package.
        """
        digest = hashlib.sha256()
        for name in sorted(self.closure(module)):
            for path in [self._modules[name], *self._beside(name)]:
                digest.update(f"{name}/{path.name}\n".encode())
                digest.update(bytes.fromhex(self._look_at(path)[0]))
        return digest.hexdigest()[:12]

    def closure(self, module: str) -> set[str]:
        """The module with everything of this package that it imports."""
        seen: set[str] = set()
        waiting = [module]
        while waiting:
            name = waiting.pop()
            if name.endswith(_ANY):
                waiting += self._inside(name.removesuffix(_ANY))
            if name in seen or name not in self._modules:
                continue
            seen.add(name)
            waiting += self._look_at(self._modules[name])[1]
            waiting.append(name.rpartition(".")[0] or name)
        return seen

    def _inside(self, package: str) -> list[str]:
        """Modules that lie in a package itself."""
        return [name for name in self._modules if name.rpartition(".")[0] == package]

    def _look_at(self, path: Path) -> tuple[str, list[str]]:
        """Checksum of a file, and modules of this package that it imports."""
        checksum, imports = self._looked_at.of(path, path.relative_to(self._root).as_posix())
        return checksum, imports

    @cached_property
    def _files(self) -> list[Path]:
        """Every file of the package but what Python keeps there."""
        found = []
        for folder, inner, files in os.walk(self._root):
            inner[:] = [name for name in inner if name != "__pycache__"]
            found += [Path(folder, name) for name in files if not name.endswith(".pyc")]
        return sorted(found)

    @cached_property
    def _modules(self) -> dict[str, Path]:
        """Files of modules and packages by dotted name."""
        found = {}
        for path in self._files:
            if path.suffix == ".py":
                parts = path.relative_to(self._root).with_suffix("").parts
                inner = parts[:-1] if parts[-1] == "__init__" else parts
                found[".".join(["trivet", *inner])] = path
        return found

    def _beside(self, name: str) -> list[Path]:
        """The files in the folders of a package that are no modules; none of another module."""
        path = self._modules[name]
        if path.name != "__init__.py" or path.parent == self._root:
            return []
        return [file for file in self._no_modules if path.parent in file.parents]

    @cached_property
    def _no_modules(self) -> list[Path]:
        """Files that are no modules."""
        return [path for path in self._files if path.suffix != ".py"]


def _look(path: Path) -> tuple[str, list[str]]:
    """Checksum of a file, and modules of this package that it imports."""
    found: list[str] = []
    if path.suffix == ".py":
        source = path.read_bytes()
        tree = ast.parse(source)
        for node in _statements(tree):
            if isinstance(node, ast.Import):
                found += [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.module is not None:
                found.append(node.module)
                found += [f"{node.module}.{alias.name}" for alias in node.names]
        for node in ast.walk(tree) if b"import_module" in source else ():
            if isinstance(node, ast.Call):
                found += _packages_searched(node)
    return sha256(path), sorted({name for name in found if name.split(".")[0] == "trivet"})


def _statements(tree: ast.Module) -> Iterator[ast.AST]:
    """Every statement, however deep; expressions, which are most of a tree, can't import."""
    waiting: list[ast.AST] = [tree]
    while waiting:
        node = waiting.pop()
        yield node
        for name in ("body", "orelse", "finalbody", "handlers", "cases"):
            waiting += getattr(node, name, ())


def _packages_searched(call: ast.Call) -> list[str]:
    """The package whose modules a call of `import_module` takes by name: f"package.{name}"."""
    named = isinstance(call.func, ast.Attribute) and call.func.attr == "import_module"
    path = call.args[0] if named and call.args else None
    if not isinstance(path, ast.JoinedStr) or not isinstance(path.values[0], ast.Constant):
        return []
    package, dot, rest = str(path.values[0].value).rpartition(".")
    return [package + _ANY] if dot and not rest else []
