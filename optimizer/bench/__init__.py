"""Gauge readings in, calibration out."""
