"""The command line. What is asked for goes to standard output, talk goes to standard error.

Exit codes: 0 fine, 1 a job was refused, 2 the command was misused, 3 a recipe, machine or set-up
file is at fault, 4 a plugin is, 5 the card is, 70 headrace itself is, 130 interrupted, 143 ended
by the system. (141 when whoever read the output has gone, which nobody is told.)
"""

from __future__ import annotations


def main() -> None:
    """Run the command and end the process."""
    import gc
    import os
    import sys
    from io import TextIOWrapper

    # there is no linear algebra here that would be worth the start of threads for it
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # a Python that is started from here does not look for modules in the working folder either
    os.environ.setdefault("PYTHONSAFEPATH", "1")
    _three_streams()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a name is never a reason to stop
    from headrace.cli.ending import heed_termination
    from headrace.cli.group import headrace

    heed_termination()
    try:
        headrace(prog_name="headrace")
    finally:
        gc.freeze()  # it ends sooner where nothing is looked through once more


def _three_streams() -> None:
    """Where standard input, output or error was closed, let it lead nowhere: else the next file
    that is opened, one on the card perhaps, would get what is meant for it."""
    import os
    import sys

    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    sys.stdin = sys.stdin or os.fdopen(0)
    sys.stdout = sys.stdout or os.fdopen(1, "w")
    sys.stderr = sys.stderr or os.fdopen(2, "w")
