"""Planning: what a design could show, by the rule of its campaign."""
