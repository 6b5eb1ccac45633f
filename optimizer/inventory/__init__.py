"""The bag of measured discs."""
