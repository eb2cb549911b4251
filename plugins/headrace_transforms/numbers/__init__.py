"""Numbers: exact, in bulk, and by what they count from."""
