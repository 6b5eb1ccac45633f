"""The plan: the answer as one document."""
