"""One small file a command."""
