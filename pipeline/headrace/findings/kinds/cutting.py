"""Kinds of findings on how the cut itself is meant: HRM110 to HRM129."""

from headrace.findings.kinds.kind import WARN, Kind

KINDS = (
    Kind("HRM110", "lines-too-quick", WARN,
         "the head waits for the card at every point: the bit rubs there, burns the wood, and the"
         " cut shows it",
         "lower the feed, or let CAM write fewer points: a coarser tolerance, or arcs"),
    Kind("HRM111", "contour-at-plunge-feed", WARN,
         "the bit turns too long in one place: it rubs, gets hot and burns the wood",
         "state the feed of the other contours on this line, if it was forgotten"),
    Kind("HRM112", "plunge-at-contour-feed", WARN,
         "most bits hardly cut downwards: driven down too fast they break, or creep out of the"
         " collet",
         "state the feed of the other plunges on this line, if it was forgotten"),
    Kind("HRM113", "chips-too-thin", WARN,
         "the edges rub instead of cutting: the bit and the dust get hot, and dust smoulders",
         "raise the feed, or lower the speed"),
    Kind("HRM114", "chips-too-thick", WARN,
         "the edges bite off more than the bit holds: it breaks, or tears the wood",
         "lower the feed, or raise the speed"),
    Kind("HRM115", "cut-in-loose-part", WARN,
         "nothing holds the piece any more: the bit catches it, throws it, or breaks",
         "cut what lies inside before the outline, or leave tabs in the outline"),
    Kind("HRM116", "tab-thin", WARN,
         "a tab that the next sheet, or a bowed one, has not: the part comes loose at the end of"
         " the cut",
         "leave higher tabs"),
)  # fmt: skip
