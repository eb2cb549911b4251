"""What to do about each check that fails."""

from __future__ import annotations

from collections.abc import Mapping

ADVICE: Mapping[str, str] = {
    "is-described": "say in the docstring's first line, in one sentence, what the step does: it is"
    " what `headrace transforms` shows",
    "describes-its-options": "give each option a `description` with its unit, and a `default` or"
    " `examples` that its own schema allows",
    "refuses-wrong-options": "say in the option's JSON Schema what it takes: `type`, `enum`,"
    " `minimum`, `maximum`, `pattern`",
    "never-fails": "look at the job below: what does the code take for granted that it does not"
    " have? Raise JobRefused where the step cannot do its work",
    "refuses-with-help": "raise JobRefused(findings=[Finding.of(...)]) with what, why and remedy,"
    " or use headrace.needed",
    "keeps-its-contract": "name in `changes` what the step is meant to change, or mend the step"
    " where it is not meant to",
    "leaves-the-job-alone": "copy what is changed; the job, its machine and its set-up are only"
    " lent",
    "gives-the-same-again": "the edits must follow from the job and the options alone: no clock,"
    " no chance, no order of a set, nothing kept from the job before",
    "reads-both-ways-alike": "ask for words by line.words, lines_with or codes(), and for moves"
    " by job.trace; how these are kept may differ",
    "finds-nothing-to-do-again": "look for what the step has written before it writes it again, or"
    " leave out idempotent=True",
    "comes-out-readable": "give each line without its line end, and one text a line",
    "keeps-line-ends": "give lines without line ends (`before`, `after`, `replace` add the job's),"
    " or write those of job.program.line_end",
    "writes-known-words": "ask job.machine what it reads (pause.word, comments, units, decimals)"
    " before writing, and raise JobRefused where it lacks what is needed",
    "minds-its-options": "use the option, take it out, or narrow its schema to values that differ",
    "takes-some-jobs": "give the steps that must go ahead (`ahead`), options that fit, or a machine"
    " that has what the step needs (`machines`)",
}
"""The checks in the order in which they are judged."""
