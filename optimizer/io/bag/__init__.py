"""The bag file: one row a disc."""
