"""Kinds of findings on words and lines that are taken out, split or settled: HRM200 to HRM204."""

from headrace.findings.kinds.kind import NOTE, REFUSE, Kind

KINDS = (
    Kind("HRM200", "optional-undecided", REFUSE,
         "a switch at the panel would decide what is cut (RS274/NGC 2.2.2)",
         "say `assume: {optional-lines: run}` in the recipe, or `leave-out`"),
    Kind("HRM201", "word-needed", REFUSE,
         "without the word the job would be another one",
         "leave it out of `drop`, or export without it"),
    Kind("HRM202", "length-taken-out", NOTE,
         "the heights are right only where each bit is touched off before it cuts",
         "touch each bit off, in the file or by hand"),
    Kind("HRM203", "lengths-differ", REFUSE,
         "what the second bit is longer than the first, it would cut deeper",
         "put the step `tool-change` or `split-tools` before it, so that each bit is touched off"),
    Kind("HRM204", "line-unsplittable", REFUSE,
         "a line longer than the controller reads is cut off or refused",
         "export with fewer places or shorter lines"),
)  # fmt: skip
