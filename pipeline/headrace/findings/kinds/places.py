"""Kinds of findings on places, and on rapids to them: HRM180 to HRM183."""

from headrace.findings.kinds.kind import REFUSE, WARN, Kind

KINDS = (
    Kind("HRM180", "rapid-timed", REFUSE,
         "under G93 F says how long a move takes, and so a rapid would crawl or race",
         "export with G94, where F is a feed"),
    Kind("HRM181", "rapid-at-feed", WARN,
         "on this machine G0 goes at F like any move, so at the last cutting feed it crawls",
         "add the step `rapid-feed`, behind all those that move the machine"),
    Kind("HRM182", "cycle-in-force", REFUSE,
         "the numbers of a cycle stay in force from line to line, and what they count from hangs on"
         " where each hole is",
         "put the step `cycles-to-moves` with `which: all` before it"),
    Kind("HRM183", "zero-moved-by-job", REFUSE,
         "behind such a line the zeros no longer lie where the set-up says",
         "take the line out: the steps set the zero"),
)  # fmt: skip
