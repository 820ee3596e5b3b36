"""Checks of a reference, a module each: what it reads over the record, and what follows."""
