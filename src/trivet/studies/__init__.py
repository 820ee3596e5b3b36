"""Studies that show how far results can be believed; each prints its table with one command."""
