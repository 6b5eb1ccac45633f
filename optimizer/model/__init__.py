"""Values that every room shares: job, bag, stack, plan, readings."""
