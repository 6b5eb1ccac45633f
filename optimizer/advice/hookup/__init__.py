"""A later (or earlier) hookup: from today's stacks to another engagement speed."""
