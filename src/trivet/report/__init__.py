"""The report: draws and words; reads tables only, computes no result."""
