"""The card: names that its reader accepts, whole files or none, and a list of what was written."""
