"""Which springs to buy, and how many."""
