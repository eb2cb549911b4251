"""The second reading: bytes to moves once more, by other means.

Nothing here imports the reader or the interpreter that the transforms use (a test keeps that), so
a fault in either shows as a difference between the two readings. It goes line by line, knows the
language of RS274/NGC but for what the controller alone knows, and judges nothing: a line that it
cannot follow makes unknown what the line might have changed.
"""
