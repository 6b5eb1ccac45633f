"""evenstack: which coned disc springs go under which clutch shoe."""

__version__ = "0.1.0"
