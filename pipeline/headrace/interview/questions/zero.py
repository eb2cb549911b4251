"""Where jobs have their zero, and which words reach the machine's own numbers."""

from headrace.interview.question import Question, at

QUESTIONS = (
    Question(
        "work-zero", "Which word makes a place the zero of the job?",
        "The corner of the sheet and the touched top become zero by it.",
        "Its manual, under work zero or offsets. G92 is the plain one: it gives the place where the"
        " machine stands other numbers. If it has G54 to G59 as well, it mostly knows G10.",
        fields=(at("work-zero.word"),),
        choices={
            "G92": "gives the place where it stands the numbers on the line",
            "G10 L2": "states where a zero lies, in the machine's numbers",
            "G10 L20": "gives the place where it stands numbers in a work offset system",
        },
    ),
    Question(
        "work-systems", "Which work offset systems does it have?",
        "headrace states the first of them in each file, so that no other one is left in force.",
        "Its manual, or its display: G54 to G59. none if it has none.",
        fields=(at("work-zero.systems"),), first=True,
    ),
    Question(
        "zero-kept", "Is the work zero still there when the file has ended?",
        "If not, one file cannot set up for the next, and headrace does not let you try.",
        "T10KEPT moves nothing: it gives X a number by G92 and ends. See whether X still shows it.",
        fields=(at("work-zero.kept-after-end"),), first=True, card_file="T10KEPT",
    ),
    Question(
        "machine-moves", "Does it know G53, moves in the machine's own numbers?",
        "With it a file can go to a safe height whatever the work zero is.",
        "Its manual only. Do not try it: a machine that passes over the word goes elsewhere.",
        fields=(at("machine-moves"),), first=True,
    ),
    Question(
        "power-up-units", "Which unit do lengths have after switching on, before any G20 or G21?",
        "A file without a unit would be 25.4 times too large or too small.",
        "Switch it off and on and look at its display or settings.",
        fields=(at("power-up-units"),), first=True,
    ),
    Question(
        "parameters", "Does it know parameters and expressions, such as #5063 or [1+2]?",
        "Only then can a file use the place where a probe touched. Where G10 L2 sets the zero,"
        " touch-off needs them.",
        "Its manual only.",
        fields=(at("parameters"),), first=True,
    ),
)  # fmt: skip
