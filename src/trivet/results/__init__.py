"""Results as they lie on disk, for people who compute: opened, exported, side by side."""
