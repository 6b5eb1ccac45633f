"""evenstack: which coned disc springs go under which clutch shoe.

Another program uses `optimizer.face`; the rooms beside it are the inside of the house.
"""

__version__ = "0.1.0"
