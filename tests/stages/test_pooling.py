"""Earlier campaigns joined with a current one: what they add, and what stays as it was."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from lives_door import Life, measure, signed, tables, write

from trivet.campaign.earlier.read import earlier_campaigns
from trivet.campaign.folder import read_campaign
from trivet.errors import InputError
from trivet.reasons import Pooled
from trivet.schema.settings.inference import Survival
from trivet.science.comparison.random_effects import random_effects
from trivet.stages.pooling import run

# Invented lives, in cycles; a negative one was still running.
NOW = [
    *signed("plain", (100, 140, 210, 230), batch="n1"),
    *signed("sealed", (190, 260, 300, -330), batch="n1"),
]
WINTER = [
    *signed("plain", (80, 120, 150), batch="w1"),
    *signed("sealed", (170, 200, -250), batch="w1"),
    *signed("plain", (90, 130), batch="w2"),
    *signed("sealed", (125, 220), batch="w2"),
    *signed("sealed", (180,), batch="w3"),
]
# no cell of it is plain
AUTUMN = [*signed("sealed", (150, 160), batch="a1"), *signed("glued", (70, 90), batch="a1")]
EARLIER = """\
  earlier:
    - {name: winter, table: earlier/winter.csv}
    - {name: autumn, table: earlier/autumn.csv}
"""


def table_of(lives: Sequence[Life], name: str, *, clock: str = "cycles", arm: str = "arm") -> str:
    """A table of lives with batch and group."""
    why = [life["cause"] for life in lives if "cause" in life]
    lines = [f"cell,batch,{arm},endpoint,clock,duration,observed{',cause' if why else ''}"]
    for place, life in enumerate(lives):
        value = life["duration"]
        row = (f"{name}{place}", life["batch"], life["arm"], "cell", clock, abs(value))
        own = (life.get("cause", ""),) if why else ()
        lines.append(",".join(str(part) for part in (*row, int(value > 0), *own)))
    return "\n".join(lines) + "\n"


def campaign(folder: Path, *, more: str = EARLIER, **files: str) -> Path:
    """Write the current campaign and tables of earlier ones."""
    write(folder, NOW, control="plain", stratify="batch", more=more)
    (folder / "earlier").mkdir()
    for name, text in files.items():
        (folder / "earlier" / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def pooled(folder: Path) -> dict[str, dict[str, Any]]:
    """Rows of the one contrast by campaign."""
    found, settings = tables(folder), read_campaign(folder).settings
    rows = run(
        cells=found["cells"],
        lifetimes=found["lifetimes"],
        comparisons=found["comparisons"],
        earlier=earlier_campaigns(folder, settings.comparison),
        survival=Survival(),
        comparison=settings.comparison,
    ).to_pylist()
    assert {(row["clock"], row["group"], row["control"]) for row in rows} <= {
        ("cycles", "sealed", "plain")
    }
    return {row["campaign"]: row for row in rows}


def enumerated(*campaigns: Sequence[Life]) -> float:
    """Two-sided p over every way to hand out the labels within each batch."""
    parts = []
    for lives in campaigns:
        for batch in sorted({life["batch"] for life in lives}):
            mine = [life for life in lives if life["batch"] == batch]
            time = np.array([abs(life["duration"]) for life in mine])
            seen = np.array([life["duration"] > 0 for life in mine])
            own = [place for place, life in enumerate(mine) if life["arm"] == "sealed"]
            hazard = np.array(
                [
                    sum(
                        np.sum(seen & (time == t)) / np.sum(time >= t)
                        for t in np.unique(time[seen & (time <= mine_t)])
                    )
                    for mine_t in time
                ]
            )
            parts.append((seen - hazard, own))
    ways = [
        [score[list(way)].sum() for way in combinations(range(len(score)), len(own))]
        for score, own in parts
    ]
    seen_sum = sum(score[own].sum() for score, own in parts)
    sums = np.array([sum(each) for each in product(*ways)])
    return float(np.mean(np.abs(sums) >= abs(seen_sum) - 1e-9))


@pytest.fixture(scope="module")
def rows(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """The contrast pooled over this campaign and two earlier ones."""
    folder = tmp_path_factory.mktemp("pooled") / "campaign"
    texts = {"winter": table_of(WINTER, "w"), "autumn": table_of(AUTUMN, "a")}
    return pooled(campaign(folder, **texts))


def test_the_pooled_p_is_that_of_all_relabellings(rows: dict[str, dict[str, Any]]) -> None:
    """Complete enumeration within the batches of this campaign and of winter."""
    assert rows[Pooled.ALL]["p"] == pytest.approx(enumerated(NOW, WINTER), abs=1e-12)
    assert rows["winter"]["p"] == pytest.approx(enumerated(WINTER), abs=1e-12)
    assert rows[Pooled.ALL]["p"] < rows[Pooled.THIS]["p"]


def test_weights_and_counts_add_up(rows: dict[str, dict[str, Any]]) -> None:
    """Weights are shares of the variance; a batch with one group only is not counted."""
    assert rows[Pooled.THIS]["weight"] + rows["winter"]["weight"] == pytest.approx(1)
    assert rows[Pooled.ALL]["weight"] == 1
    assert rows["winter"]["weight"] == pytest.approx(
        rows["winter"]["variance"] / rows[Pooled.ALL]["variance"]
    )
    assert (rows["winter"]["blocks"], rows["winter"]["cells"]) == (2, 5)
    assert rows["winter"]["reason"] == (
        "batch w3 adds nothing: it holds only one of the two groups"
    )
    assert rows[Pooled.ALL]["cells"] == 4 + 5
    assert rows[Pooled.ALL]["events"] == 3 + 4


def test_a_campaign_without_the_control_adds_nothing_and_says_so(
    rows: dict[str, dict[str, Any]],
) -> None:
    """Autumn has no plain cell: no cell of it joins, and its row says why."""
    autumn = rows["autumn"]
    assert autumn["reason"] == "adds nothing: no cell of it has the control 'plain'"
    assert (autumn["cells"], autumn["blocks"]) == (0, 0)
    assert autumn["p"] is None
    assert autumn["weight"] is None


def test_estimates_are_shrunken_towards_each_other(rows: dict[str, dict[str, Any]]) -> None:
    """The shrunken ratio lies between the campaign's own and the mean of all."""
    mean = rows[Pooled.ALL]["shrunken"]
    for name in (Pooled.THIS, "winter"):
        own, drawn = rows[name]["estimate"], rows[name]["shrunken"]
        assert min(own, mean) - 1e-9 <= drawn <= max(own, mean) + 1e-9
        assert rows[name]["shrunken_lower"] < drawn < rows[name]["shrunken_upper"]
    logs = np.log([rows[name]["estimate"] for name in (Pooled.THIS, "winter")])
    errors = np.array([rows[name]["log_standard_error"] for name in (Pooled.THIS, "winter")])
    expected = random_effects(logs, variance=errors**2, confidence=0.95, spread_beforehand=0.5)
    assert mean == pytest.approx(np.exp(expected.mean))
    assert rows[Pooled.ALL]["reason"] == (
        "2 campaigns hardly say how far campaigns differ, so that shrunken ratios rest on what was "
        "set beforehand too"
    )
    assert rows[Pooled.ALL]["between_upper"] > 1


def test_the_verdict_of_this_campaign_stands_unchanged(
    tmp_path: Path, rows: dict[str, dict[str, Any]]
) -> None:
    """Naming earlier campaigns changes no row of comparisons."""
    texts = {"winter": table_of(WINTER, "w"), "autumn": table_of(AUTUMN, "a")}
    named = tables(campaign(tmp_path / "named", **texts))
    alone = tables(campaign(tmp_path / "alone", more=""))
    assert named["comparisons"].equals(alone["comparisons"])
    exact = measure(alone, "exact log-rank", "sealed")
    for column in ("p", "p_adjusted", "verdict"):
        assert rows[Pooled.THIS][column] == exact[column]
    assert rows[Pooled.THIS]["estimate"] == measure(alone, "time ratio", "sealed")["estimate"]


def test_lives_on_another_clock_do_not_join(tmp_path: Path) -> None:
    """A campaign with lives in hours adds nothing to a contrast in cycles."""
    texts = {"winter": table_of(WINTER, "w", clock="hours"), "autumn": table_of(AUTUMN, "a")}
    found = pooled(campaign(tmp_path / "campaign", **texts))
    assert found["winter"]["reason"] == "adds nothing: it has no cell life in cycles"
    assert found[Pooled.ALL]["p"] == found[Pooled.THIS]["p"]
    assert found[Pooled.ALL]["shrunken"] is None
    assert found[Pooled.ALL]["reason"] == (
        "how far campaigns differ can't be estimated, since one has a time ratio: nothing is "
        "shrunken"
    )


STOPPED_WINTER = [
    *signed("plain", (80, 120, 150, 160), batch="w1"),
    *signed("sealed", (170, 200), batch="w1"),
]


@pytest.mark.parametrize(
    ("cause", "verdict", "said"),
    [
        ("channel needed", "different", ""),
        ("looked bad", "inconclusive", "with the cells that looked bad taken as ended the verdict"),
        ("stopped", "inconclusive", "nobody says why they were followed no longer, and at a bound"),
    ],
)
def test_stops_have_their_vote_in_the_pooled_verdict(
    tmp_path: Path, cause: str, verdict: str, said: str
) -> None:
    """Two sealed cells of winter stopped early: harmless with an ordinary reason, else not."""
    winter = [*STOPPED_WINTER, *signed("sealed", (-10, -20), batch="w1", cause=cause)]
    more = "  earlier: [{name: winter, table: earlier/winter.csv}]\n"
    found = pooled(campaign(tmp_path / "campaign", more=more, winter=table_of(winter, "w")))
    assert found[Pooled.ALL]["verdict"] == verdict
    assert said in found[Pooled.ALL]["reason"]
    ended = [*STOPPED_WINTER, *signed("sealed", (10, 20), batch="w1")]
    assert (enumerated(NOW, winter), enumerated(NOW, ended) > 0.05) == (
        pytest.approx(found[Pooled.ALL]["p"]),
        True,
    )


def test_unlike_follow_up_is_heard_in_the_pooled_verdict(tmp_path: Path) -> None:
    """Sealed cells of winter seen for a short time only: the larger p of two tests decides."""
    winter = [
        *signed("plain", (60, 80, 120, 130, 150, 160, 165), batch="w1"),
        *signed("sealed", (-50, -51, -52, -53, -54, -55, -56), batch="w1"),
    ]
    more = "  earlier: [{name: winter, table: earlier/winter.csv}]\n"
    found = pooled(campaign(tmp_path / "campaign", more=more, winter=table_of(winter, "w")))
    everyone = found[Pooled.ALL]
    assert "follow-up differs between the groups: the larger p of two" in everyone["reason"]
    assert everyone["p_adjusted"] >= everyone["p"]


def test_without_earlier_campaigns_the_table_is_empty(tmp_path: Path) -> None:
    """Nothing is pooled where none is named."""
    assert pooled(campaign(tmp_path / "campaign", more="")) == {}


def refused(folder: Path) -> str:
    """Everything that is said of a campaign that is refused."""
    with pytest.raises(InputError) as error:
        read_campaign(folder)
    return str(error.value)


def test_everything_wrong_with_earlier_campaigns_is_said_at_once(tmp_path: Path) -> None:
    """Unknown units, columns and near names of groups of several tables, with their lines."""
    winter = table_of(WINTER, "w").replace("w0,w1,plain,", "w0,w1,plian,")
    winter = winter.replace("duration,observed", "duration,observd")
    autumn = table_of(AUTUMN, "a").replace("a0,a1,sealed,cell,cycles", "a0,a1,seeled,cell,cykles")
    said = refused(campaign(tmp_path / "campaign", winter=winter, autumn=autumn))
    assert "winter.csv, line 1: column 'observed' is missing" in said
    assert "Did you mean 'observd'?" in said
    assert "autumn.csv, line 2: 'cykles' is no clock. Did you mean 'cycles'?" in said
    assert "autumn.csv, line 2: 'arm' of cell 'a0' is 'seeled', and 'sealed' in this" in said


def test_a_unit_that_is_not_known_is_refused(tmp_path: Path) -> None:
    """Units are those of a table of lives."""
    text = table_of(WINTER, "w").replace("observed\n", "observed,unit\n")
    lines = text.splitlines()
    text = "\n".join([lines[0], *(f"{line},turns" for line in lines[1:])]) + "\n"
    said = refused(campaign(tmp_path / "campaign", winter=text, autumn=table_of(AUTUMN, "a")))
    assert "winter.csv, line 2: unit 'turns' does not fit the clock cycles." in said


def test_cells_that_would_count_twice_are_refused(tmp_path: Path) -> None:
    """A cell of the same name and batch in two campaigns is one cell."""
    twice = table_of([*WINTER, *AUTUMN], "w")
    texts = {"winter": table_of(WINTER, "w"), "autumn": twice}
    said = refused(campaign(tmp_path / "campaign", **texts))
    assert "cell 'w0' of batch 'w1' and 10 more also stands in 'winter'" in said


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ("{name: winter}", "give 'winter' either a 'table' or an 'archive'."),
        ("{name: winter, table: earlier/winter.csv, archive: x}", "either a 'table' or an"),
        ("{name: all campaigns, table: earlier/winter.csv}", "take another name"),
        ("{name: winter, table: ../winter.csv}", "must lie below the campaign folder"),
        ("{name: winter, archive: earlier}", "is no archive of a campaign"),
        ("{name: winter, tabel: earlier/winter.csv}", "Did you mean 'table'?"),
        ("{name: winter, table: earlier/none.csv}", "none.csv: can't be read"),
    ],
)
def test_a_setting_that_names_no_campaign_is_refused(tmp_path: Path, entry: str, said: str) -> None:
    """Each earlier campaign has a name and one source below the campaign folder."""
    more = f"  earlier: [{entry}]\n"
    folder = campaign(tmp_path / "campaign", more=more, winter=table_of(WINTER, "w"))
    assert said in refused(folder)


def test_a_table_must_say_the_group_of_each_cell(tmp_path: Path) -> None:
    """'group' may stand for the primary factor; no column, or an empty value, is refused."""
    more = "  earlier: [{name: winter, table: earlier/winter.csv}]\n"
    named = pooled(campaign(tmp_path / "a", more=more, winter=table_of(WINTER, "w", arm="group")))
    assert named["winter"]["blocks"] == 2
    without = campaign(tmp_path / "b", more=more, winter=table_of(WINTER, "w", arm="cause"))
    assert "has no column 'arm' (or 'group')" in refused(without)
    empty = table_of(WINTER, "w").replace("w0,w1,plain", "w0,w1,")
    assert "line 2: has no arm." in refused(campaign(tmp_path / "c", more=more, winter=empty))
