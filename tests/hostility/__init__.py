"""Input made to break the tool: mutated, spliced, overlong, deep. Every case can be replayed."""
