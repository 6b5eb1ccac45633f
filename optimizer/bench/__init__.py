"""From readings to the next move."""
