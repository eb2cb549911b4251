"""Files as authors write them, which type checkers must accept; the script is run too."""
