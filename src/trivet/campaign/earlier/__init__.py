"""Earlier campaigns, whose batches join the comparison as further blocks."""
