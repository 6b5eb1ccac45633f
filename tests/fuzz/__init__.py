"""Files and options that nobody should have typed: whatever they are, one clear word."""
