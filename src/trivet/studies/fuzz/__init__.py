"""Damaged inputs by the thousand: raw files, and records that no instrument should give."""
