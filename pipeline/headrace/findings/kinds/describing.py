"""Kinds of findings on a machine that is being described."""

from headrace.findings.kinds.kind import REFUSE, Kind

KINDS = (
    Kind("HRM230", "description-unfinished", REFUSE,
         "what nobody has answered is not guessed",
         "run `headrace describe` with the name of the file: it asks for what is open"),
    Kind("HRM231", "answer-unusable", REFUSE,
         "an answer that is taken otherwise than it was meant moves a machine",
         "answer it as the question says; `headrace describe FILE --list` shows all questions"),
    Kind("HRM232", "answer-unplaced", REFUSE,
         "what people wrote into the file stays as it is",
         "put it in by hand"),
    Kind("HRM233", "answer-stands", REFUSE,
         "an answer that is there is not replaced unless that is asked for",
         "name the question with --again"),
    Kind("HRM234", "no-test-file-yet", REFUSE,
         "a test file is written in words that the machine is known to read, or not at all",
         "answer the questions that are named, then ask for the files again"),
    Kind("HRM235", "test-file-kept", REFUSE,
         "headrace replaces only what it wrote itself, and nobody has changed since",
         "take the file off the card, or give another folder"),
)  # fmt: skip
