"""A job: what the user decides, read from one TOML file."""
