"""The mechanics of coned disc springs."""
