"""What is believed of discs and loads, before and after readings."""
