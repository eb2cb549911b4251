"""The interview that writes a machine file, and the test files that answer its questions."""
