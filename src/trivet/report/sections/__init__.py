"""The sections of the report: what each says."""
