"""Drawn campaigns: what befalls them is what they say, and the stages judge it as a real one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import kstest, weibull_min

from trivet.campaign.life_sets import life_sets
from trivet.reasons import StopReason
from trivet.schema.settings.inference import Survival
from trivet.studies.calibration.__main__ import main
from trivet.studies.calibration.before_table import before_table
from trivet.studies.calibration.builds import Build, numbers_of, say
from trivet.studies.calibration.campaign_table import campaign_table, claims_line
from trivet.studies.calibration.campaign_tables import (
    cells_table,
    comparison_of,
    lifetimes_table,
    verdicts,
)
from trivet.studies.calibration.campaigns import LOOKED, SURVIVAL, Count, count
from trivet.studies.calibration.drawn_lives import write_lives
from trivet.studies.calibration.invented_campaigns import (
    FAILING,
    LIFE_H,
    WEEK_H,
    Campaign,
    Stops,
    Truth,
    draw_campaign,
    seen_at,
)
from trivet.studies.calibration.invented_lives import BATCH_SPREAD
from trivet.studies.calibration.parts import PARTS, PLAIN, Part
from trivet.studies.calibration.rates import Verdicts
from trivet.studies.calibration.verdict_file import read_verdicts, write_verdicts

MANY = Campaign("many", batches=((200, 200),))


def truth_of(*ends: float, stops: tuple[float, ...] = (), known_after_h: float = 0.0) -> Truth:
    """Cells of one batch, in turn of the control and of the group, all from the same start."""
    count = len(ends)
    stop = np.array(stops or [np.inf] * count)
    return Truth(
        group=np.arange(count) % 2,
        batch=np.zeros(count, dtype=int),
        start_h=np.zeros(count),
        entry_h=np.zeros(count),
        end_h=np.array(ends),
        stop_h=stop,
        reason=np.where(np.isfinite(stop), StopReason.NOT_STATED.value, "").astype(object),
        known_after_h=known_after_h,
    )


def scale_of(seed: int) -> float:
    """Scale of the control in a campaign of one batch drawn from a seed [h]."""
    return float(LIFE_H * np.exp(np.random.default_rng(seed).normal(0.0, BATCH_SPREAD)))


def test_lives_of_a_campaign_have_their_law() -> None:
    """Lives follow the Weibull law of their group, times the factor of their batch."""
    truth = draw_campaign(MANY, ratio=2.0, generator=np.random.default_rng(3))
    for group, ratio in ((0, 1.0), (1, 2.0)):
        own = truth.end_h[truth.group == group] / ratio / scale_of(3)
        assert kstest(own, weibull_min(1 / 0.3).cdf).pvalue > 1e-3


def test_a_late_entry_leaves_out_what_ended_before() -> None:
    """Lives beyond an entry follow the law given that they reached it."""
    campaign = replace(MANY, entry_h=(LIFE_H, 2 * LIFE_H))
    truth = draw_campaign(campaign, ratio=1.0, generator=np.random.default_rng(3))
    law = weibull_min(1 / 0.3, scale=scale_of(3))
    assert np.all(truth.end_h > truth.entry_h)
    assert truth.entry_h[truth.group == 1].max() > LIFE_H
    left = law.sf(truth.end_h) / law.sf(truth.entry_h)
    assert kstest(left, "uniform").pvalue > 1e-3


def test_stops_are_as_many_as_said_and_keep_their_reason() -> None:
    """So many cells of each group are chosen; a failing one is stopped at nine tenths."""
    stops = (
        Stops(StopReason.CHANNEL_NEEDED, (2, 0)),
        Stops(StopReason.LOOKED_BAD, (1, 3), failing=True),
    )
    truth = draw_campaign(
        Campaign("stopped", stops=stops), ratio=1.0, generator=np.random.default_rng(1)
    )
    found = {
        (reason, group): int(np.sum((truth.reason == reason) & (truth.group == group)))
        for reason in (StopReason.CHANNEL_NEEDED, StopReason.LOOKED_BAD)
        for group in (0, 1)
    }
    assert list(found.values()) == [2, 0, 1, 3]
    bad = truth.reason == StopReason.LOOKED_BAD
    assert truth.stop_h[bad] == pytest.approx(FAILING * truth.end_h[bad])


def test_what_is_seen_at_a_cut() -> None:
    """An end counts once known, a stop before it censors with its reason, a check gives bounds."""
    truth = truth_of(100.0, 150.0, 300.0, 400.0, stops=(np.inf, 120.0, np.inf, 500.0))
    seen = seen_at(truth, 200.0)
    assert seen.duration_h.tolist() == [100.0, 120.0, 200.0, 200.0]
    assert seen.observed.tolist() == [1, 0, 0, 0]
    assert seen.reason.tolist() == ["", StopReason.NOT_STATED, "", ""]
    late = seen_at(replace(truth, known_after_h=101.0), 200.0)
    assert late.observed.tolist() == [0, 0, 0, 0]
    assert late.duration_h[0] == 200.0
    checked = seen_at(truth, 200.0, checks_h=(70.0, 90.0))
    assert checked.lower_h.tolist() == [70.0, 90.0, 140.0, 180.0]
    assert checked.upper_h[0] == 140.0
    assert np.isnan(checked.upper_h[1:]).all()


def test_the_stage_reads_what_was_drawn() -> None:
    """Stops without a reason are the ones that may veto; others censor, one looks bad."""
    reasons = (StopReason.NOT_STATED, StopReason.NOT_EXPLAINED, StopReason.EQUIPMENT,
               StopReason.LOOKED_BAD)  # fmt: skip
    truth = replace(
        truth_of(*[300.0] * 4, stops=(50.0,) * 4),
        reason=np.array([reason.value for reason in reasons], dtype=object),
    )
    seen = seen_at(truth, 400.0)
    comparison = comparison_of(stratified=True)
    (lives,), found = life_sets(
        cells_table(seen), lifetimes=lifetimes_table(seen), factors=comparison.factors
    )
    assert not found
    assert lives.stopped.tolist() == [True, True, False, False]
    assert lives.looked_bad.tolist() == [False, False, False, True]
    assert seen.logged.tolist() == [True, False, True, True]


def test_a_plain_truth_has_its_verdict() -> None:
    """Sixteen cells whose groups lie apart differ; with one stop a side nobody explains, not."""
    ends = [100.0 + place + 300.0 * (place % 2) for place in range(16)]
    campaign = Campaign("apart")
    seen = seen_at(truth_of(*ends), 1000.0)
    assert verdicts(seen, campaign, cut_h=1000.0, survival=SURVIVAL) == {"g1": "different"}
    stops = (90.0, 95.0, 90.0, 95.0, *[np.inf] * 12)
    seen = seen_at(truth_of(*ends, stops=stops), 1000.0)
    assert verdicts(seen, campaign, cut_h=1000.0, survival=SURVIVAL) == {"g1": "inconclusive"}


def test_weekly_cuts_keep_a_claim() -> None:
    """With looks the stage is asked every week up to the planned end, and a claim stays."""
    campaign = replace(LOOKED[0], spread=0.1)
    assert campaign.cuts_h == tuple(WEEK_H * week for week in range(1, 7))
    counted = count(campaign, ratio=2.0, replicates=4, seed=(5,))
    assert counted.hits("different") == 4
    assert counted.claims > 0
    assert counted.lost == 0


def test_claims_that_were_lost_are_counted() -> None:
    """A group once called different and later not is one claim and one loss."""
    counted = Count(campaign=LOOKED[0], ratio=1.0)
    counted.add([{"g1": "different"}, {"g1": "inconclusive"}, {"g1": "different"}])
    counted.add([{"g1": "inconclusive"}, {"g1": "different"}])
    assert (counted.claims, counted.lost) == (1, 1)
    assert "planned end: 1; not shown at a later cut: 1" in claims_line([[counted]])
    lines = list(campaign_table([[counted] * 4]))
    assert "| 100.0 |" in lines[-1].replace(" (!)", "")


def test_unlike_checks_call_nothing_the_same() -> None:
    """Groups a margin apart, checked 1 : 8, are not called equivalent: decisions, section 4."""
    campaign = Campaign("checks", ((12, 12),), spread=0.1, checks_h=(2 * WEEK_H, WEEK_H / 4))
    assert count(campaign, ratio=1.25, replicates=20, seed=(1,)).hits("equivalent") == 0


def test_a_number_lies_where_it_is_put() -> None:
    """Shifts of groups and batches, and the spread within them, are those that were asked for."""
    build = Build("", Campaign("", ((300, 300), (300, 300))), group_shift=2.0, batch_shift=1.0)
    number = numbers_of(build, np.random.default_rng(1))
    means = [number[place : place + 300].mean() for place in range(0, 1200, 300)]
    assert means == pytest.approx([0.0, 2.0, 1.0, 3.0], abs=0.2)
    flat = numbers_of(replace(build, within=0.0), np.random.default_rng(1))
    assert np.unique(flat).tolist() == [0.0, 1.0, 2.0, 3.0]


def test_builds_hear_the_stages() -> None:
    """A number that acts is found, one of a batch is not estimable, one of a group is apart."""
    fast = Survival(enumeration_limit=2_000, monte_carlo_draws=1_000)
    twelve = Campaign("", ((6, 6), (6, 6)), spread=0.1)
    acts = say(Build("", twelve, acts=2.0), replicates=3, seed=(1,), survival=fast)
    assert acts.told["association"] == 3
    batch = Build("", twelve, acts=2.0, batch_shift=1.0, within=0.0)
    assert say(batch, replicates=2, seed=(1,), survival=fast).told["no association"] == 2
    apart = say(Build("", twelve, ratio=2.0, group_shift=9.0), replicates=2, seed=(1,),
                survival=fast)  # fmt: skip
    assert apart.told["apart"] == apart.told["different"] == apart.told["trend"] == 2


def test_another_rule_gets_the_same_lives(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Files hold the lives that the study judges, in its order; its verdicts stand beside."""
    part = replace(PARTS[0], rows=PARTS[0].rows[3:4])
    monkeypatch.setattr("trivet.studies.calibration.drawn_lives.PARTS", (part,))
    plain = Part("plain", "", (), 0)
    monkeypatch.setattr("trivet.studies.calibration.drawn_lives.PLAIN", plain)
    write_lives(tmp_path, replicates=5, seed=7)
    with np.load(tmp_path / "followed-0-0.npz") as file:
        written = {name: file[name] for name in file.files}
    generator = np.random.default_rng(list(part.seed(7, 0, 0)))
    cuts = part.rows[0].cuts_h[-1]
    for campaign in range(2):
        seen = seen_at(draw_campaign(part.rows[0], ratio=1.0, generator=generator), cuts)
        own = written["campaign"] == campaign
        assert written["duration"][own].tolist() == seen.duration_h.tolist()
        assert written["stopped"][own].tolist() == seen.logged.tolist()


def test_both_rules_stand_side_by_side(tmp_path: Path) -> None:
    """Verdicts come back from their file, and both rules are counted over the same campaigns."""
    part = replace(PARTS[0], rows=PARTS[0].rows[:1])
    today = Verdicts([{"different"}, {"different", "inconclusive"}, {"equivalent"}])
    before = Verdicts([{"inconclusive"}, {"different"}])
    rules = []
    for name, own in (("before", before), ("today", today)):
        path = tmp_path / f"{name}.csv"
        write_verdicts(path, {("followed", 0, turn): own for turn in range(4)})
        rules.append(read_verdicts(path))
        assert rules[-1]["followed", 0, 3].words == own.words
    row = list(before_table(part, *rules))[-1]
    assert "| 50.0 | 100.0 | 0.0 | 0.0 | 50.0 | 100.0 |" in row


def test_the_command_prints_every_table(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """`make calibrate` prints each table, with its seed and from where on a rate is marked."""
    plain = Part("plain", "Plain", PLAIN.rows[:1], 0)
    monkeypatch.setattr("trivet.studies.calibration.__main__.PLAIN", plain)
    looked = replace(PARTS[-1], rows=PARTS[-1].rows[-3:-2])
    monkeypatch.setattr("trivet.studies.calibration.__main__.PARTS", (looked,))
    monkeypatch.setattr("trivet.studies.calibration.__main__.NUMBERS", ())
    main(["--replicates", "2", "--seed", "7"])
    said = capsys.readouterr().out
    assert "2 campaigns asked for, seed 7" in said
    assert "| 3 v 3 |" in said
    assert "| survival, beta product |" in said
    assert "| three groups, two batches | 4 v 4 v 4 |" in said
    assert "not shown at a later cut: 0." in said
    assert "| three places of an order, all alike | 6 v 6 v 6 |" in said


def test_a_part_may_be_run_by_itself(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A part alone has the rates that it has within the whole: seeds go by row."""
    few = tuple(replace(part, rows=part.rows[:1]) for part in PARTS[:2])
    monkeypatch.setattr("trivet.studies.calibration.__main__.PARTS", few)
    main(["--replicates", "2", "--seed", "7", "--parts", "followed", "observed"])
    both = capsys.readouterr().out
    main(["--replicates", "2", "--seed", "7", "--parts", "observed"])
    alone = capsys.readouterr().out
    assert "Weekly looks" not in both
    assert both.split("\n\n")[-1] == alone.split("\n\n")[-1]
    assert "every two weeks in both groups" in alone
