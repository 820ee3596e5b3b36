"""The shapes of what flows: settings, tables, findings; no science, no files."""
