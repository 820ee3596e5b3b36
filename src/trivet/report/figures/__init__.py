"""The figures of the report: what each draws."""
