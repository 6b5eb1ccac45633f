"""Disc-spring mechanics: numbers only."""
