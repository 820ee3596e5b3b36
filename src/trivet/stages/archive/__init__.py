"""Stage archive: the bag of a campaign."""
