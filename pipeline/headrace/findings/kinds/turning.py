"""Kinds of findings on axes that turn: HRM245 to HRM249."""

from headrace.findings.kinds.kind import REFUSE, Kind

KINDS = (
    Kind("HRM245", "wrap-unsuited", REFUSE,
         "only straight moves to places along X and Y are the same round a blank, and only where"
         " they turn it by its own measure",
         "see that only such moves are left before the job is wrapped"),
    Kind("HRM246", "turns-in-blank", REFUSE,
         "the blank is turned into a bit that cannot cut so fast: the bit breaks, or the blank is"
         " torn out of the chuck",
         "lift out of the blank before the rapid"),
    Kind("HRM247", "turn-outside", REFUSE,
         "the axis runs into its end, or tears what is wired through it",
         "let the job turn less far, or mend `travel` of the axis in the machine file"),
    Kind("HRM248", "past-the-axis", REFUSE,
         "beyond the centre line the bit cuts from the wrong side, and the blank is cut in two",
         "go less deep, or mend `diameter` of the blank in the set-up file"),
    Kind("HRM249", "beside-the-axis", REFUSE,
         "only above the centre line is the surface as high as Z0, and the cut in its place",
         "let a step such as `wrap-y` make turns of moves along the other axis; set the zero above"
         " the centre line by `corner-zero`, and let the plate lie above it too, or a line such as"
         " G0 Y0 lead there"),
)  # fmt: skip
