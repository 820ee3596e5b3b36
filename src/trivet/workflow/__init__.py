"""What the rules need: the campaign, the settings and digests of each job, progress."""
