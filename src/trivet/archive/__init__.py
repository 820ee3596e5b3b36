"""The archive of a campaign: bag, crate, descriptions, and their checks."""
