"""Kinds of findings on arcs that are written anew: HRM150 to HRM155."""

from headrace.findings.kinds.kind import REFUSE, Kind

KINDS = (
    Kind("HRM150", "arc-start-optional", REFUSE,
         "where the arc begins, and so what lies between its ends, would hang on a switch at the"
         " panel",
         "take the slash or the line before the arc out, or state X, Y and Z on a line of its own"
         " before the arc"),
    Kind("HRM151", "arc-timed", REFUSE,
         "under G93 every one of the lines would need an F of its own",
         "export with G94, where F is a feed"),
    Kind("HRM152", "arc-swings", REFUSE,
         "how the axis turns from one of the lines to the next would have to be guessed",
         "let CAM write such moves as lines"),
    Kind("HRM153", "arc-called", REFUSE,
         "one line that runs from several places is another path each time",
         "put the step `expand-calls` before it"),
    Kind("HRM154", "arc-places-few", REFUSE,
         "with so few places behind the point the path cannot stay within the tolerance",
         "allow a larger `tolerance`, or describe more `decimals` if the controller reads them"),
    Kind("HRM155", "arcs-not-read", REFUSE,
         "arcs by their centre in the plane of X and Y are what this step writes",
         "leave the step `lines-to-arcs` out, or describe `arcs` if the controller reads them"),
)  # fmt: skip
