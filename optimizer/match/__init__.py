"""Which disc goes where."""
