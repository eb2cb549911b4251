"""Test files for the card: each shows at the machine what one question asks.

What holds for all of them: no word for the spindle; nothing moves before somebody has gone on from
a pause; moves are short and slow, near home with Z at its top, and count from where homing leaves
the axes; nothing is written in words that the answers so far do not allow. A description may be
wrong: so each way begins with two steps of 1 mm that ask whether they came, and no note has a
number behind a letter.
"""
