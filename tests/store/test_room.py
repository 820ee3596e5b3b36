"""No room and no right to write: what is said, and that nothing half written is left."""

from __future__ import annotations

import errno
import subprocess
import sys
from pathlib import Path

import pyarrow as pa
import pytest

from trivet.errors import CannotWriteError
from trivet.schema.tables.dictionary import TABLES
from trivet.store.room import free, is_full, told, writing
from trivet.store.tables import empty, read_table, write_table


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EFBIG])
def test_no_room_says_what_is_needed_and_free(number: int, tmp_path: Path) -> None:
    """Folder, file, reason of the system, megabytes needed and free, and what to do."""
    path = tmp_path / "tables" / "cycles.parquet"
    with pytest.raises(CannotWriteError) as caught, writing(path, at_most_bytes=2_500_000):
        raise OSError(number, "full")
    said = str(caught.value)
    for part in (str(path), "takes 2.5 MB at most", "free there: ", "Make room", "--reports"):
        assert part in said


@pytest.mark.parametrize("number", [errno.EROFS, errno.EACCES, errno.EPERM])
def test_no_right_says_so(number: int, tmp_path: Path) -> None:
    """Nothing of room, but of rights."""
    said = str(told(OSError(number, "no"), tmp_path / "x"))
    assert "can't be written" in said
    assert "Give the right to write there" in said


def test_other_errors_pass_as_they_are(tmp_path: Path) -> None:
    """A fault of the program is not taken for one of the disk."""
    with pytest.raises(NotADirectoryError), writing(tmp_path / "x"):
        raise NotADirectoryError(errno.ENOTDIR, "is none")


def test_a_disk_that_takes_nothing_is_full() -> None:
    """The kernel's own device without room, and a temporary folder that has some."""
    assert "MB" in free(Path("/no/such/folder/at/all"))
    assert not is_full(Path.cwd())


LIMITED = """\
import resource, sys
from pathlib import Path
import numpy as np
from trivet.errors import CannotWriteError
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import make_table, write_table
from test_room import table
resource.setrlimit(resource.RLIMIT_FSIZE, ({limit}, {limit}))
import signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
try:
    write_table(TABLES["survival"], table(200_000), Path({path!r}))
except CannotWriteError as error:
    print(error)
"""


def table(rows: int) -> pa.Table:
    """As many rows of a table, all values missing but those that must be there."""
    one = empty(TABLES["survival"])
    fields = []
    for field in one.schema:
        value = {"string": "x", "double": 0.5, "int64": 1}.get(str(field.type))
        fields.append(pa.array([value] * rows, field.type))
    return pa.Table.from_arrays(fields, schema=one.schema)


def test_a_table_that_finds_no_room_leaves_the_one_before(tmp_path: Path) -> None:
    """No file may grow beyond some bytes: the old table stands whole, nothing lies beside it."""
    path = tmp_path / "survival.parquet"
    write_table(TABLES["survival"], table(2), path)
    limit = path.stat().st_size // 2
    code = LIMITED.format(limit=limit, path=str(path))
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False,
                          cwd=Path(__file__).parent)  # fmt: skip
    assert "can't be written: File too large" in done.stdout, done.stderr
    assert read_table(TABLES["survival"], path).num_rows == 2
    assert list(tmp_path.iterdir()) == [path]
