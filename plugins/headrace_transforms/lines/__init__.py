"""Lines of a program, and how their texts are changed."""
