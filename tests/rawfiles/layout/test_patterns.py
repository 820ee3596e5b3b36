"""File patterns: which files belong to a cell, each once, in an order that names decide."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trivet.rawfiles.layout.file_names import Pattern, nearest_misfit, pattern_regex
from trivet.rawfiles.layout.patterns import find_files, match_cells, match_files, natural_key
from trivet.schema.settings.raw import Raw, RawFiles


def touch(folder: Path, *names: str) -> None:
    """Make files with some text."""
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text("x\n", encoding="utf-8")


def cycling(*patterns: str) -> Raw:
    """Settings with cycling patterns."""
    return Raw(cycling=[RawFiles(files=pattern) for pattern in patterns])


def test_cell_is_matched_exactly(tmp_path: Path) -> None:
    """An id that begins another, or has signs of regular expressions, takes its own files only."""
    touch(tmp_path, "raw/A1.csv", "raw/A12.csv", "raw/a1.csv", "raw/AX1.csv", "raw/A.1.csv")
    raw = cycling("raw/{cell}.csv")
    assert [file.relative for file in find_files(tmp_path, raw, "A1")] == ["raw/A1.csv"]
    assert [file.relative for file in find_files(tmp_path, raw, "A.1")] == ["raw/A.1.csv"]


def test_part_does_not_swallow_the_rest_of_a_longer_id(tmp_path: Path) -> None:
    """`A_2_1` is a part of cell `A_2`, never part `2_1` of cell `A`."""
    touch(tmp_path, "raw/A_1.csv", "raw/A_2_1.csv")
    raw = cycling("raw/{cell}_{part}.csv")
    assert [file.relative for file in find_files(tmp_path, raw, "A")] == ["raw/A_1.csv"]
    assert [file.part for file in find_files(tmp_path, raw, "A_2")] == ["1"]


def test_contested_file_goes_to_the_longest_id(tmp_path: Path) -> None:
    """A file that two ids match belongs to the longer id, so it is read for one cell only."""
    touch(tmp_path, "raw/A12.csv")
    raw = cycling("raw/{cell}{part}.csv")
    cells = ("A", "A1")
    owners = {cell: find_files(tmp_path, raw, cell, other_cells=cells) for cell in cells}
    assert [cell for cell, files in owners.items() if files] == ["A1"]


def test_parts_are_ordered_as_numbers(tmp_path: Path) -> None:
    """Part 10 comes behind part 9."""
    touch(tmp_path, "raw/A_10.csv", "raw/A_9.csv")
    files = find_files(tmp_path, cycling("raw/{cell}_{part}.csv"), "A")
    assert [file.part for file in files] == ["9", "10"]
    assert natural_key("p9") < natural_key("p10")


def test_name_gives_pair_and_cycle(tmp_path: Path) -> None:
    """{pair} and {cycle} are taken from the name; a pattern may fix the pair instead."""
    touch(tmp_path, "z/A_positive_025.txt", "z/A_wrong_1.txt", "whole/A.txt")
    raw = Raw(
        impedance=[
            RawFiles(files="z/{cell}_{pair}_{cycle}.txt"),
            RawFiles(files="whole/{cell}.txt", pair="cell"),
        ]
    )
    files = find_files(tmp_path, raw, "A")
    assert [(file.pair, file.cycle) for file in files] == [("cell", None), ("positive", 25)]


def test_overlapping_patterns_give_a_file_once(tmp_path: Path) -> None:
    """Two patterns that match one file read it once, by the first, and the other is remembered."""
    touch(tmp_path, "raw/A.csv")
    raw = Raw(
        cycling=[RawFiles(files="raw/{cell}.csv"), RawFiles(files="{part}/{cell}.csv")],
        impedance=[RawFiles(files="raw/{cell}.csv", pair="cell")],
    )
    files = find_files(tmp_path, raw, "A")
    assert [(file.content, file.also) for file in files] == [("cycling", "raw/{cell}.csv")]


def test_given_paths_are_matched_however_they_are_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Paths from the root, the working directory or the campaign folder mean the same."""
    touch(tmp_path, "c/raw/A.csv")
    monkeypatch.chdir(tmp_path)
    ways = [Path("raw/A.csv"), Path("c/raw/A.csv"), tmp_path / "c/raw/A.csv"]
    for path in ways:
        files = match_files(
            [path], campaign_folder=Path("c"), raw=cycling("raw/{cell}.csv"), cell="A"
        )
        assert [(file.relative, file.path.is_file()) for file in files] == [("raw/A.csv", True)]


def test_same_placeholder_twice_has_one_value() -> None:
    """A placeholder that stands twice in a pattern matches equal text only."""
    regex = pattern_regex("p{part}/{cell}_{part}.csv", "A")
    assert regex.fullmatch("p1/A_1.csv")
    assert not regex.fullmatch("p1/A_2.csv")


def test_absent_folder_gives_no_files(tmp_path: Path) -> None:
    """A folder that does not exist yet is no error: the cell has no files."""
    assert find_files(tmp_path, cycling("later/{cell}.csv"), "A") == []


NAMES = st.text(alphabet="Aa12_", min_size=1, max_size=8)
PATTERNS = st.sampled_from(
    [
        "{cell}.csv",
        "{cell}_{part}.csv",
        "{cell}{part}.csv",
        "{part}{cell}.csv",
        "{cell}_{cell}.csv",
        "A{cell}_{cycle}.csv",
        "{part}{cell}{cycle}.csv",
        "{part}.csv",
    ]
)


def by_single_patterns(names: list[str], raw: Raw, cells: list[str]) -> dict[str, list[object]]:
    """Who owns what, by the regular expression of each cell alone."""

    def hits(name: str, cell: str, *, named: bool) -> list[tuple[str, str, object]]:
        tried = [
            (entry, pattern_regex(entry.files, cell).fullmatch(name))
            for entry in raw.cycling
            if not named or "{cell}" in entry.files
        ]
        return [(e.files, e.layout, m.groupdict()) for e, m in tried if m]

    return {
        cell: [
            (name, found[0][1], found[0][2])
            for name in names
            if (found := hits(name, cell, named=False))
            and not any(hits(name, o, named=True) for o in cells if len(o) > len(cell))
        ]
        for cell in cells
    }


@given(
    st.lists(NAMES, min_size=1, max_size=6, unique=True),
    st.lists(st.text(alphabet="A12_", min_size=1, max_size=3), min_size=1, max_size=5, unique=True),
    st.lists(PATTERNS, min_size=1, max_size=3, unique=True),
)
@settings(max_examples=400, deadline=None)
def test_all_cells_at_once_own_what_each_alone_would(
    stems: list[str], cells: list[str], patterns: list[str]
) -> None:
    """Matching a path once for all cells gives what the pattern of each cell alone gives."""
    raw = Raw(cycling=[RawFiles(files=files, layout=f"l{n}") for n, files in enumerate(patterns)])
    names = sorted(f"{stem}.csv" for stem in stems)
    got = match_cells(map(Path, names), campaign_folder=Path("c"), raw=raw, cells=cells)
    expected = by_single_patterns(names, raw, cells)
    for cell in cells:
        seen = {f.relative: (f.layout, f.part, f.cycle) for f in got[cell]}
        assert seen == {
            name: (
                layout,
                groups.get("part") or "",
                int(groups["cycle"]) if groups.get("cycle") else None,
            )
            for name, layout, groups in expected[cell]
        }


def test_a_thousand_cells_are_matched_in_one_pass() -> None:
    """The patterns are tried for the ids that a path names, not for every cell."""
    cells = [f"C{n:04d}" for n in range(1000)]
    raw = cycling("raw/{cell}_{part}.csv")
    paths = [Path(f"raw/{cell}_{part}.csv") for cell in cells for part in (1, 2)]
    with pytest.MonkeyPatch.context() as patch:
        tried = []
        original = Pattern.match
        patch.setattr(
            Pattern, "match", lambda self, *given: tried.append(1) or original(self, *given)
        )
        got = match_cells(paths, campaign_folder=Path("c"), raw=raw, cells=cells)
    assert [file.part for file in got["C0500"]] == ["1", "2"]
    assert len(tried) == len(paths)


def test_the_cell_may_stand_twice_and_parts_may_have_hyphens(tmp_path: Path) -> None:
    """A folder of the cell and its name again; a date as the part; anything in between."""
    touch(tmp_path, "raw/A1/A1_2026-01-12.csv", "raw/A1/A2_2026-01-12.csv", "raw/x y/A1.csv")
    raw = cycling("raw/{cell}/{cell}_{part}.csv", "raw/{any}/{cell}.csv")
    found = find_files(tmp_path, raw, "A1", other_cells=["A2"])
    assert [(file.relative, file.part) for file in found] == [
        ("raw/x y/A1.csv", ""),
        ("raw/A1/A1_2026-01-12.csv", "2026-01-12"),
    ]


def test_any_stays_within_a_folder(tmp_path: Path) -> None:
    """What may be anything does not reach over a '/'."""
    touch(tmp_path, "raw/x/y/A1.csv")
    assert find_files(tmp_path, cycling("raw/{any}/{cell}.csv"), "A1") == []


@pytest.mark.parametrize(
    ("name", "fits", "piece", "rest"),
    [
        ("raw/A1_x.csv", "raw/A1_", "{cycle}", "x.csv"),
        ("raw/A1_3.txt", "raw/A1_3", ".csv", ".txt"),
        ("raw/A1_3.csv.bak", "raw/A1_3.csv", "", ".bak"),
        ("raw/B7_3.csv", "raw/", "{cell}", "B7_3.csv"),
    ],
)
def test_a_pattern_that_fails_says_where(name: str, fits: str, piece: str, rest: str) -> None:
    """The piece that does not fit, and what stands there."""
    pattern = Pattern("cycling", RawFiles(files="raw/{cell}_{cycle}.csv"))
    near = nearest_misfit(name, [pattern], ["A1", "A2"])
    assert near is not None
    assert (near.fits, near.piece, near.rest) == (fits, piece, rest)
