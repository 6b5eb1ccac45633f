"""The bench page: the loop at the bench in the browser of this machine, or of a phone beside it."""
