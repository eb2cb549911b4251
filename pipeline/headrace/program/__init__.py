"""Programs: immutable source bytes with columns of words, and edits that make the next one."""

from headrace.program.edits import Action, Cause, Edit, after, before, delete, replace, rewrite
from headrace.program.grammar import Comment, Fault, Heading, Scan, Setting, Word, scan
from headrace.program.line import Line
from headrace.program.numbers import number_text
from headrace.program.numerals import Numerals
from headrace.program.program import Piece, Program
from headrace.program.text import Text

__all__ = [
    "Action",
    "Cause",
    "Comment",
    "Edit",
    "Fault",
    "Heading",
    "Line",
    "Numerals",
    "Piece",
    "Program",
    "Scan",
    "Setting",
    "Text",
    "Word",
    "after",
    "before",
    "delete",
    "number_text",
    "replace",
    "rewrite",
    "scan",
]
