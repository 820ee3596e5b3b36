"""Trust of a reference: its checks, its platings."""
