"""What is said of the register of reports issued."""

from __future__ import annotations

CHECK = "register of reports"
"""Check of a line of the register that can't be read."""
SETTING_WORDS: dict[str, str] = {
    "campaign.question": "question of the campaign",
    "campaign.planned_end": "planned end",
    "campaign.time_zone": "time zone",
    "comparison.factors": "factors compared",
    "comparison.stratify_by": "what labels are permuted within",
    "comparison.confidence": "confidence",
    "comparison.equivalence_margin": "margin of equivalence",
    "comparison.covariates": "numbers of the build looked at",
    "comparison.primary_endpoint": "endpoint of the verdict",
    "comparison.looks": "looks at a difference",
    "comparison.restriction_h": "upper end of restricted means",
    "lifetime.clock_start": "start of the clock",
    "lifetime.primary_clock": "clock that decides",
    "lifetime.capacity.retention_below": "retention that ends a cell",
    "lifetime.capacity.consecutive": "ageing cycles in a row that end a cell",
    "lifetime.reference_checks_to_lose": "checks in a row that lose a reference",
    "survival.seed": "seed of the draws",
}
"""Settings as people call them; any other is called by its dotted name."""
