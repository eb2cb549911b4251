"""Kinds of findings on the bits of a set-up and their changes: HRM210 to HRM219."""

from headrace.findings.kinds.kind import REFUSE, WARN, Kind

KINDS = (
    Kind("HRM210", "change-loses-zero", REFUSE,
         "homing X and Y puts their numbers back to those of the machine, and the job cuts there",
         "make one card file for each bit, with the step `split-tools`"),
    Kind("HRM211", "change-out-of-place", REFUSE,
         "a hand comes to the bit only where the tip is clear, and the job goes on as it was",
         "let CAM lift out of the sheet first and call the bit on a line of its own, or make one"
         " card file for each bit, with the step `split-tools`"),
    Kind("HRM212", "tool-not-in-table", REFUSE,
         "how far that bit stands out, and how deep and fast it may cut, is not known",
         "describe it in `tools` of the set-up file, or mend its number in CAM"),
    Kind("HRM213", "plunge-over-bit", WARN,
         "most bits hardly cut downwards: driven down too fast they break, or creep out of the"
         " collet",
         "lower the feed of the way down, or go down along a longer ramp"),
    Kind("HRM214", "plate-on-cut", WARN,
         "where the sheet has been cut the plate lies lower, or tips: all that follows is too deep",
         "let `plate: at` of the set-up file be a place that stays uncut"),
)  # fmt: skip
