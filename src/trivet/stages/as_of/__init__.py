"""Stage as_of: lives, verdicts and trust as of an earlier data cut."""
