"""Beginnings: folders and files that people start from and make theirs."""
