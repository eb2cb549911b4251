"""The run sheet in a real browser: what an operator sees, reaches and prints."""
