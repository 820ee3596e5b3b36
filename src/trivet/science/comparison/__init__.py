"""Groups against their control: effects, verdicts, measures, planning."""
