"""Kinds of findings on plugins and contracts."""

from headrace.findings.kinds.kind import REFUSE, Kind

KINDS = (
    Kind("HRP001", "plugin-faulty", REFUSE,
         "a transform that cannot be described cannot be checked",
         "mend the plugin, or take it out of the recipe"),
    Kind("HRP003", "contract-broken", REFUSE,
         "a step may change only what its transform declares",
         "mend the transform, or declare what it changes"),
    Kind("HRP007", "proof-failed", REFUSE,
         "two readings of the same bytes disagree: a step or headrace itself is at fault",
         "nothing was written; report it with the job and the recipe"),
    Kind("HRP004", "plugin-unloadable", REFUSE,
         "a plugin that does not load offers nothing",
         "mend the plugin, or take it out"),
    Kind("HRP005", "step-failed", REFUSE,
         "a transform that fails leaves no result",
         "mend the transform"),
    Kind("HRP006", "name-taken", REFUSE,
         "a recipe would not say which of the two it means",
         "rename one of them, or remove one plugin"),
    Kind("HRP002", "edits-faulty", REFUSE,
         "edits that contradict each other have no certain result",
         "mend the transform"),
)  # fmt: skip
