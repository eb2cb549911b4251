"""Checks of the bundled transforms."""
