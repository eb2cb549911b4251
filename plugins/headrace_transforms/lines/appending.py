"""A further word on a line, behind those that are there."""

from __future__ import annotations

from decimal import Decimal

from headrace import Line


def with_word(line: Line, word: str) -> str:
    """The text of a line with another word behind its last one, set apart as the others are."""
    text = line.text
    if "(" in text or ";" in text:
        end = max(each.end for each in line.words)
    else:
        end = len(text.rstrip(" \t"))
    return f"{text[:end]}{gap(text[:end])}{word}{text[end:]}"


def with_feed(line: Line, feed: str) -> str:
    """The text of a line with this F in the place of its own, if that says another number, or
    behind the last word."""
    text = line.text
    if "F" in text or "f" in text:
        for own in line.words:
            if own.letter == "F":
                same = own.value is not None and own.value == Decimal(feed[1:])
                return text if same else line.rewritten({own: feed})
    return with_word(line, feed)


def gap(text: str) -> str:
    """What stands between the words of a text: a blank, or nothing."""
    return " " if " " in text.strip() else ""
