"""Patterns: how many packets of each size a stack has."""
