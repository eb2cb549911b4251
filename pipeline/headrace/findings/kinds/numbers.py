"""Kinds of findings on numbers that are written anew: HRM170 to HRM177."""

from headrace.findings.kinds.kind import REFUSE, Kind

KINDS = (
    Kind("HRM170", "numbers-not-plain", REFUSE,
         "only a number that stands on its line, and that is used once, can be written anew",
         "put the step `plain-numbers` before it for what is worked out, `expand-calls` for"
         " subprograms"),
    Kind("HRM171", "rounding-breaks-arc", REFUSE,
         "the radii at both ends of an arc may differ by 0.002 mm or 0.0002 inch at the most"
         " (RS274/NGC 3.5.3.2), and an arc may not end where it begins unless it goes all around",
         "allow more `places`, or put the step `arcs-to-lines` with `which: all` before it"),
    Kind("HRM172", "rounding-breaks-cycle", REFUSE,
         "a number that is used many times adds its rounding up each time",
         "put the step `cycles-to-moves` before it, or allow more `places`"),
    Kind("HRM173", "feed-of-two-kinds", REFUSE,
         "F would have to be two numbers at once",
         "export with F on each line where its meaning changes, or in the machine's unit"),
    Kind("HRM174", "feed-rounded-away", REFUSE, "a cut without feed never ends",
         "allow more `places`, or export with a larger feed"),
    Kind("HRM175", "mode-optional", REFUSE,
         "whether the numbers behind it are rescaled or not would hang on a switch at the panel",
         "take the slash or the line out"),
    Kind("HRM176", "angle-too-fine", REFUSE,
         "how far the cut strays by an angle hangs on its distance from the axis",
         "allow more `places`, or export with coarser angles"),
    Kind("HRM177", "rounding-coarse", REFUSE,
         "more than 0.05 mm is no rounding any more, but another cut",
         "put the step `units` with `to: mm` before it where the job is in inches, or export with"
         " numbers that the controller can read"),
)  # fmt: skip
