"""Ways from here to a truly matched set, played before any work is done."""
