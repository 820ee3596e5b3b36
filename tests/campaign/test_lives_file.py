"""A table of lives: what is wrong is said with its line, what is odd gets a clear verdict."""

from __future__ import annotations

from pathlib import Path

import pytest
from lives_door import measure, signed, tables, write

from trivet.campaign.folder import read_campaign
from trivet.errors import InputError
from trivet.schema.findings.verdicts import VERDICTS


def problems(folder: Path, rows: list[str], header: str = "") -> str:
    """What is said of a table with these rows."""
    write(folder, signed("a", (1, 2)) + signed("b", (3, 4)), control="a")
    head = header or "cell,endpoint,clock,duration,unit,observed,cause,lower,upper,entry"
    (folder / "lifetimes.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_campaign(folder)
    return str(caught.value)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("c00000,cell,cycles,-3,,1,,,,", "line 2: 'duration' is -3; it can't be negative"),
        ("c00000,cell,cycles,3,,2,,,,", "'observed' is '2'; it must be 1 (end seen) or 0"),
        ("c00000,cell,cycles,3,,yes,,,,", "'observed' is 'yes'"),
        ("c00000,cell,cycles,three,,1,,,,", "'duration' is 'three', no number"),
        ("c00000,cell,cycles,nan,,1,,,,", "'duration' is 'nan'"),
        ("c00000,cell,cycle,3,,1,,,,", "'cycle' is no clock. Did you mean 'cycles'?"),
        ("c00000,cells,cycles,3,,1,,,,", "'cells' is no endpoint. Did you mean 'cell'?"),
        ("c00000,cell,cycles,3,h,1,,,,", "unit 'h' does not fit the clock cycles"),
        ("c0000,cell,cycles,3,,1,,,,", "cell 'c0000' is not in the build sheet"),
        ("c00000,cell,cycles,,,1,,,,", "cell 'c00000' has no 'duration' or 'upper'"),
        ("c00000,cell,cycles,3,,1,,4,5,", "'lower' (4) lies above the life (3)"),
        ("c00000,cell,cycles,3,,0,,1,5,", "'upper' is given, but 'observed' is 0"),
        ("c00000,cell,cycles,3,,1,,1,1e300,", "'upper' is 1e300, beyond what a coin cell can have"),
        ("c00000,cell,cycles,1e308,,1,,,,", "'duration' is 1e308, beyond what"),
        ("c00000,cell,cycles,3,,1,,,,3", "'entry' (3) is not before the life ends (3)"),
    ],
)
def test_what_is_wrong_is_said(tmp_path: Path, row: str, words: str) -> None:
    """A row that can't be meant stops the campaign before any work, with its line."""
    assert words in problems(tmp_path, [row])


def test_a_cell_twice_and_all_problems_at_once(tmp_path: Path) -> None:
    """A life that stands twice is an error; every problem of the table is said at once."""
    row = "c00000,cell,cycles,3,,1,,,,"
    said = problems(tmp_path, [row, row, "c00001,cell,cycles,-1,,1,,,,"])
    assert "line 3: cell 'c00000' has its cell life in cycles twice; first on line 2" in said
    assert "line 4" in said
    assert "column 'observed' is missing" in problems(tmp_path, [], "cell,endpoint,clock,duration")


def test_raw_files_and_a_table_exclude_each_other(tmp_path: Path) -> None:
    """Lives come from one source."""
    more = "raw: {cycling: [{files: 'raw/{cell}.csv'}]}\n"
    write(tmp_path, signed("a", (1, 2)) + signed("b", (3, 4)), control="a", more=more)
    with pytest.raises(InputError, match="leave out one of the two"):
        read_campaign(tmp_path)


def test_a_margin_below_one_is_refused(tmp_path: Path) -> None:
    """An equivalence margin below 1 says nothing; the settings are refused."""
    more = "  equivalence_margin: 0.8\n"
    write(tmp_path, signed("a", (1, 2)) + signed("b", (3, 4)), control="a", more=more)
    with pytest.raises(InputError, match="equivalence_margin"):
        read_campaign(tmp_path)


@pytest.mark.parametrize(
    ("first", "second", "verdict"),
    [
        ((0, 0, 1, 2), (0, 3, 4, 5), "inconclusive"),  # ends at nought
        ((3, 4, 5, 6), (7,), "inconclusive"),  # a group of one
        ((-3, -4, -5), (-3, -4, -5), "not estimable"),  # all censored
        ((5, 5, 5, 5), (5, 5, 5, 5), "not estimable"),  # all tied
        ((1,), (2,), "inconclusive"),
    ],
)
def test_odd_lives_have_a_clear_verdict(
    tmp_path: Path, first: tuple[float, ...], second: tuple[float, ...], verdict: str
) -> None:
    """Odd but possible lives give a verdict with its reason, and no number where none is meant."""
    found = tables(write(tmp_path, signed("a", first) + signed("b", second), control="a"))
    exact = measure(found, "exact log-rank")
    assert exact["verdict"] == verdict
    assert exact["reason"]
    ratio = measure(found, "time ratio")
    assert (ratio["estimate"] is None) == bool(ratio["reason"])


def test_one_batch_a_variant_is_not_estimable(tmp_path: Path) -> None:
    """Groups that share no batch can't be told from batches."""
    lives = signed("a", (1, 2, 3, 4), batch="1") + signed("b", (11, 12, 13, 14), batch="2")
    found = tables(write(tmp_path, lives, control="a", stratify="batch"))
    assert measure(found, "exact log-rank")["verdict"] == "not estimable"


def test_lives_between_checks_are_tested_as_such(tmp_path: Path) -> None:
    """Rows with bounds only are tested on interval scores, and the reason says so."""
    early = [{"arm": "a", "lower": t, "upper": t + 10} for t in (0, 0, 10, 10, 20, 20)]
    late = [{"arm": "b", "lower": t, "upper": t + 10} for t in (30, 30, 40, 40, 50, 50)]
    found = tables(write(tmp_path, early + late, control="a"))
    exact = measure(found, "exact log-rank")
    # full separation: 2 of C(12, 6) = 924 permutations
    assert exact["p"] == pytest.approx(2 / 924)
    assert exact["verdict"] == "different"
    steps = [row for row in found["survival_intervals"].to_pylist() if row["group"] == "b"]
    assert [(row["lower"], row["upper"]) for row in steps] == [(30, 40), (40, 50), (50, 60)]
    assert [row["survival"] for row in steps] == pytest.approx([2 / 3, 1 / 3, 0], abs=1e-6)


def test_why_a_cell_was_not_seen_to_end(tmp_path: Path) -> None:
    """The cause of a censored row is its reason; stopped cells get their bounds."""
    lives = [*signed("a", (1, 2, 3, 4)), *signed("b", (-2.5, -2.6), cause="stopped"),
             *signed("b", (8, 9))]  # fmt: skip
    found = tables(write(tmp_path, lives, control="a"))
    because = [row["censored_because"] for row in found["lifetimes"].to_pylist()]
    assert because.count("stopped by a person") == 2
    names = [row["measure"] for row in found["comparisons"].to_pylist()]
    assert sum(name.startswith("bound:") for name in names) == 2


def test_a_cell_left_out_stays_in_the_counts(tmp_path: Path) -> None:
    """A cell of the sheet without a row counts as censored at 0, with a finding."""
    write(tmp_path, signed("a", (1, 2, 3)) + signed("b", (3, 4, 5)), control="a")
    path = tmp_path / "lifetimes.csv"
    path.write_text("\n".join(path.read_text().splitlines()[:-1]) + "\n", encoding="utf-8")
    found = tables(tmp_path)
    exact = measure(found, "exact log-rank")
    assert (exact["cells"], exact["events"]) == (3, 2)
    assert exact["verdict"] in VERDICTS
    last = found["cells"].to_pylist()[-1]
    assert last["status"] == "no data"


def test_order_of_rows_and_names_of_groups_do_not_matter(tmp_path: Path) -> None:
    """Other names and another order of rows give the same numbers."""
    first, second = (1, 2, -3, 4, 6), (3, 5, -7, 8, 9)
    one = tables(write(tmp_path / "one", signed("a", first) + signed("b", second), control="a"))
    lives = signed("y", second[::-1]) + signed("z", first[::-1])
    two = tables(write(tmp_path / "two", lives, control="z"))
    for name in ("exact log-rank", "log-rank", "time ratio", "hazard ratio"):
        for column in ("p", "estimate", "lower", "upper", "verdict"):
            mine, other = measure(one, name)[column], measure(two, name)[column]
            assert (
                mine == pytest.approx(other, rel=1e-6)
                if isinstance(mine, float)
                else (mine == other)
            )
