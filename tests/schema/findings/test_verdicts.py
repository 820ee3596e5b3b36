"""The wording of verdicts, as a table of cases: grounds in, whole sentence out."""

from __future__ import annotations

from typing import Any

import pytest

from trivet.reasons import AtLooks
from trivet.schema.findings.verdicts import Grounds, Seen, Tipping, verdict_reason

NAN = float("nan")
BASE: dict[str, Any] = {
    "endpoint": "cell", "clock": "hours", "primary_clock": "hours", "group": "bead",
    "control": "plain", "cells": 6, "events": 5, "control_cells": 6, "control_events": 6,
    "longer": True, "p": 0.012, "p_adjusted": 0.012, "smallest_attainable_p": 0.0022, "drawn": "",
    "undecided": False, "estimate": 1.42, "lower": 1.1, "upper": 1.83, "confidence": 0.95,
    "same_lower": 1.15, "same_upper": 1.75, "same_confidence": 0.9, "no_ratio": "",
    "margin": 1.25, "alpha": 0.05, "confounded": False, "idle_cells": 0, "interim": "",
}  # fmt: skip
NUMBERS = (
    "5 of 6 ended against 6 of 6; exact log-rank p 0.012; time ratio 1.42, 95 % interval 1.10 to "
    "1.83, 90 % interval for equivalence 1.15 to 1.75"
)
NEITHER = (
    "Neither a difference nor equivalence within a factor of 1.25 is shown between cells of 'bead' "
    "and of 'plain'"
)
DISAGREE = (
    "The interval leaves out 1, but it comes from a Weibull model and counts neither contrasts nor "
    "looks; the test leads"
)
CASES: dict[str, tuple[str, dict[str, Any], str]] = {
    "lasts longer": (
        "different", {}, f"Cells of 'bead' last longer than cells of 'plain'. {NUMBERS}."
    ),
    "lasts less long": (
        "different", {"longer": False},
        f"Cells of 'bead' do not last as long as cells of 'plain'. {NUMBERS}.",
    ),
    "the same": (
        "equivalent",
        {"p": 0.6, "p_adjusted": 0.6, "estimate": 1.02, "lower": 0.88, "upper": 1.18,
         "same_lower": 0.91, "same_upper": 1.15},
        "Cells of 'bead' and of 'plain' last the same within a factor of 1.25. 5 of 6 ended "
        "against 6 of 6; exact log-rank p 0.60; time ratio 1.02, 95 % interval 0.880 to 1.18, "
        "90 % interval for equivalence 0.910 to 1.15.",
    ),
    "the same, though different": (
        "equivalent", {},
        "Cells of 'bead' and of 'plain' last the same within a factor of 1.25; a difference "
        f"inside it is shown too, p 0.012. {NUMBERS}.",
    ),
    "three against three": (
        "inconclusive",
        {"cells": 3, "events": 3, "control_cells": 3, "control_events": 3, "p": 0.1,
         "p_adjusted": 0.1, "smallest_attainable_p": 0.1, "lower": 0.9, "upper": 2.3},
        f"{NEITHER}. 3 of 3 ended against 3 of 3; exact log-rank p 0.10; time ratio 1.42, 95 % "
        "interval 0.900 to 2.30, 90 % interval for equivalence 1.15 to 1.75. With these numbers "
        "no difference could have been shown: the smallest attainable p is 0.10.",
    ),
    "one group alive": (
        "inconclusive",
        {"events": 0, "p": 0.2, "p_adjusted": 0.4, "no_ratio": "no time ratio: 0 ends in the group "
         "and 6 in the control that can be compared, at least 2 each needed"},
        f"{NEITHER}. 0 of 6 ended against 6 of 6; exact log-rank p 0.20 (over all contrasts "
        "0.40); no time ratio: 0 ends in the group and 6 in the control that can be compared, at "
        "least 2 each needed.",
    ),
    "draws that do not decide": (
        "inconclusive",
        {"p": 0.0499, "p_adjusted": 0.0499, "undecided": True, "drawn": "200000 of 2704156 "
         "permutations drawn; 99 % interval of p 0.049 to 0.051"},
        f"{NEITHER}. 5 of 6 ended against 6 of 6; exact log-rank p 0.050 (200000 of 2704156 "
        "permutations drawn; 99 % interval of p 0.049 to 0.051); time ratio 1.42, 95 % interval "
        "1.10 to 1.83, 90 % interval for equivalence 1.15 to 1.75. The Monte Carlo interval of p "
        "includes alpha; draw more permutations.",
    ),
    "followed unlike": (
        "inconclusive",
        {"unlike": True, "imputed_p": 0.081, "deciding_p": 0.081},
        f"{NEITHER}. {NUMBERS}. {DISAGREE}. Follow-up differs between the groups, so the larger "
        "of the exact p and of p of the imputation-permutation test, 0.081, decides (adjusted "
        "0.081).",
    ),
    "test and interval disagree": (
        "inconclusive",
        {"p": 0.076, "p_adjusted": 0.076, "deciding_p": 0.076, "lower": 1.07, "upper": 2.28},
        f"{NEITHER}. 5 of 6 ended against 6 of 6; exact log-rank p 0.076; time ratio 1.42, 95 % "
        f"interval 1.07 to 2.28, 90 % interval for equivalence 1.15 to 1.75. {DISAGREE}.",
    ),
    "an interval that tells nothing": (
        "inconclusive",
        {"p": 0.5, "p_adjusted": 0.5, "deciding_p": 0.5, "lower": 0.334, "upper": 579.0},
        f"{NEITHER}. 5 of 6 ended against 6 of 6; exact log-rank p 0.50; time ratio 1.42, 95 % "
        "interval 0.334 to 579 (no information), 90 % interval for equivalence 1.15 to 1.75.",
    ),
    "stopped cells turn it": (
        "inconclusive", {"turned": True, "deciding_p": 0.012},
        f"{NEITHER}. {NUMBERS}. Of some cells nobody says why they were followed no longer, and "
        "the verdict must hold whatever became of them: at a bound it would be another.",
    ),
    "one cell would have to outlive the others": (
        "inconclusive",
        {"turned": True, "deciding_p": 0.012, "tipping": Tipping(("c07",), ("c18",), 1204.2)},
        f"{NEITHER}. {NUMBERS}. Of some cells nobody says why they were followed no longer, and "
        "the verdict must hold whatever became of them. The difference (p 0.012) turns only if "
        "c07 had outlived 1,204 h and c18 had ended when stopped.",
    ),
    "cells that looked bad turn it": (
        "inconclusive", {"deciding_p": 0.012, "bad_p": 0.31, "turned_by_bad": True},
        f"{NEITHER}. {NUMBERS}. The verdict must hold with the cells that looked bad taken as "
        "ended when they were stopped, and it does not (adjusted p 0.31).",
    ),
    "cells that looked bad turn groups that last the same": (
        "inconclusive",
        {"p": 0.8, "p_adjusted": 0.8, "deciding_p": 0.8, "bad_p": 0.4, "turned_by_bad": True,
         "estimate": 1.02,
         "lower": 0.88, "upper": 1.18, "same_lower": 0.91, "same_upper": 1.15},
        f"{NEITHER}. 5 of 6 ended against 6 of 6; exact log-rank p 0.80; time ratio 1.02, 95 % "
        "interval 0.880 to 1.18, 90 % interval for equivalence 0.910 to 1.15. The verdict must "
        "hold with the cells that looked bad taken as ended when they were stopped, and it does "
        "not.",
    ),
    "it stands whatever became of stopped cells": (
        "different", {"deciding_p": 0.012, "bounds_p": 0.031, "bad_p": 0.02},
        f"Cells of 'bead' last longer than cells of 'plain'. {NUMBERS}. It holds whatever became "
        "of the cells that nobody says why they were followed no longer (adjusted p at most "
        "0.031), and with the cells that looked bad taken as ended when they were stopped "
        "(adjusted p 0.020).",
    ),
    "the same, whatever became of stopped cells": (
        "equivalent",
        {"p": 0.6, "p_adjusted": 0.6, "deciding_p": 0.6, "estimate": 1.02, "lower": 0.88,
         "upper": 1.18, "same_lower": 0.91, "same_upper": 1.15, "bounds_p": 0.4},
        "Cells of 'bead' and of 'plain' last the same within a factor of 1.25. 5 of 6 ended "
        "against 6 of 6; exact log-rank p 0.60; time ratio 1.02, 95 % interval 0.880 to 1.18, "
        "90 % interval for equivalence 0.910 to 1.15. It holds whatever became of the cells that "
        "nobody says why they were followed no longer.",
    ),
    "shown before, though a bound would turn it now": (
        "different", {"deciding_p": 0.012, "bounds_p": 0.31},
        f"Cells of 'bead' last longer than cells of 'plain'. {NUMBERS}.",
    ),
    "entered unlike": (
        "not estimable", {"unlike": True},
        "The cells of 'bead' and 'plain' entered or left observation at different times, and no "
        f"test allows for that. {NUMBERS}. Follow-up differs between the groups, and no test that "
        "allows for it could be done.",
    ),
    "confounded with the batch": (
        "not estimable", {"confounded": True, "p": NAN, "p_adjusted": NAN},
        "No batch holds cells of both 'bead' and 'plain', so a difference between groups can't be "
        "told from one between batches. 5 of 6 ended against 6 of 6.",
    ),
    "all alive": (
        "not estimable",
        {"events": 0, "control_events": 0, "p": NAN, "p_adjusted": NAN},
        "Nothing to compare: no informative event. 0 of 6 ended against 0 of 6.",
    ),
    "no control": (
        "not estimable",
        {"control_cells": 0, "control_events": 0, "p": NAN, "p_adjusted": NAN, "confounded": True},
        "Nothing to compare: no cell of 'plain' counts. 5 of 6 ended against 0 of 0.",
    ),
    "interim, other clock, idle cells": (
        "different",
        {"clock": "cycles", "idle_cells": 2, "interim": "Interim: too early"},
        f"Cells of 'bead' last longer than cells of 'plain'. {NUMBERS}. 2 of these cells stand in "
        "batches without the other group and add nothing to the test. Sensitivity only: the "
        "primary clock is hours. Interim: too early.",
    ),
    "references": (
        "different", {"endpoint": "reference"},
        f"References of 'bead' last longer than references of 'plain'. {NUMBERS}. "
        "Cause-specific: cells that ended before their reference was lost are censored here; see "
        "causes.",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("verdict", "changes", "sentence"), CASES.values(), ids=CASES)
def test_wording_of_verdicts(verdict: str, changes: dict[str, Any], sentence: str) -> None:
    """Each case has exactly this sentence: claim, counts, p, effect, interval, what limits them."""
    assert verdict_reason(verdict, grounds=Grounds(**{**BASE, **changes})) == sentence


LOOKED: dict[AtLooks, str] = {
    AtLooks.SHOWN: "Shown at the look of 2026-02-20",
    AtLooks.TURNED_ROUND: "At the look of 2026-02-20 the opposite difference was shown",
    AtLooks.HELD: "By the look of 2026-02-20 the tests had crossed for a difference, but what else "
    "was known then stood against it",
    AtLooks.HELD_BY_STOPS: "By the look of 2026-02-20 the tests had crossed for a difference, but "
    "of some cells nobody says why they were followed no longer, and it did not hold whatever "
    "became of them; a reason in the bench log settles that",
    AtLooks.HELD_BY_BAD: "By the look of 2026-02-20 the tests had crossed for a difference, but it "
    "did not hold with the cells that looked bad taken as ended when they were stopped",
    AtLooks.WAITS: "The looks share a level of 0.05 between them: at that of 2026-02-20 p had to "
    "be at most 0.0043, for this contrast and for those tested with it; it was the last, and what "
    "came later decides nothing",
}


@pytest.mark.parametrize("how", AtLooks)
def test_what_looks_say(how: AtLooks) -> None:
    """Whatever came of the looks has its sentence, after the numbers."""
    seen = Seen(how, "2026-02-20", 0.0043)
    said = verdict_reason(
        "different", grounds=Grounds(**{**BASE, "deciding_p": 0.012, "seen": seen})
    )
    assert said == f"Cells of 'bead' last longer than cells of 'plain'. {NUMBERS}. {LOOKED[how]}."


def test_what_was_shown_stays_shown() -> None:
    """Where p has risen since, the sentence says so."""
    seen = Seen(AtLooks.SHOWN, "2026-02-20")
    grounds = Grounds(**{**BASE, "deciding_p": 0.08, "seen": seen})
    assert "20; it stays shown, though p is 0.080 now." in verdict_reason(
        "different", grounds=grounds
    )
