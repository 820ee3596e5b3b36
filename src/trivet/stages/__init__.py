"""One file a rule: read, call science, write; no formula."""
