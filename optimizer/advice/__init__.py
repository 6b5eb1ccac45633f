"""The next move on the bench, and the ways to a later hookup."""
