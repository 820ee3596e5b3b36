"""Spectra: validity, headline, choice of model, trends."""
