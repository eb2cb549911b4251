"""Telling people: why a step refuses, and texts for display and file."""
