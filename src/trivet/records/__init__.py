"""The shapes of what flows: settings, tables, columns, findings; no science, no files."""
