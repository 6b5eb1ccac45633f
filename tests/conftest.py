"""Property tests draw the same examples in every run and are never timed."""

from hypothesis import settings

settings.register_profile("fixed", derandomize=True, deadline=None, max_examples=60)
settings.load_profile("fixed")
