"""Pure computation: arrays in, frozen records out; no files, settings, plots or logging."""
