"""What a paper on battery cells must report, and what of it a campaign has recorded."""
