"""What switches the spindle, its speeds and its times."""

from headrace.interview.question import Question, at, when

_TURNS = (when("spindle.control", "by-hand", "relay", "speed"),)
_BY_HAND = (when("spindle.control", "by-hand"),)
_BY_WORD = (when("spindle.control", "relay", "speed"),)
_SPEED = (when("spindle.control", "speed"),)

QUESTIONS = (
    Question(
        "spindle", "What switches the spindle, and what sets its speed?",
        "If a hand switches it, files stop and ask for it; else they write the words and wait.",
        "Look: a switch on the router, a relay that the controller closes, or a drive that follows"
        " S. Wiring is work for an electrician.",
        fields=(at("spindle.control"),),
        choices={
            "by-hand": "a switch on the router; M3 does nothing",
            "relay": "M3 and M5 switch it, at one speed",
            "speed": "M3 and M5 switch it, and S sets the speed",
            "none": "nothing turns: a knife or a pen is in the holder",
        },
    ),
    Question(
        "spindle-range", "Which are its slowest and its fastest speed?",
        "Jobs that ask for other speeds are refused.",
        "The plate on the spindle or its manual. One speed only: write it twice.",
        fields=(at("spindle.range"),), when=_TURNS, needed=True,
    ),
    Question(
        "run-up", "How long does it take from switching on until it is at speed?",
        "So long a file waits before the first cut.",
        "With a watch and no bit, by ear: until the tone does not rise any more. Round up.",
        fields=(at("spindle.run-up"),), when=_TURNS, needed=True,
    ),
    Question(
        "run-down", "How long does it turn on after it is switched off?",
        "So long a file waits before it lets you near the bit. Too short means a turning bit at"
        " your hand.",
        "With a watch and no bit, from full speed, until it stands still. Round up.",
        fields=(at("spindle.run-down"),), when=_TURNS, needed=True,
    ),
    Question(
        "dial", "Which speed does each mark on its dial stand for?",
        "Files then ask for the mark: SPINDLE ON 17000 DIAL 3.",
        "The router's manual, or an optical counter without a bit. Write pairs: 1=10000 2=12500.",
        fields=(at("spindle.dial"),), when=_BY_HAND,
    ),
    Question(
        "speed-numbers", "What does S count, if it is not the speed in rev/min?",
        "S255 may be full speed; headrace writes the number that stands for the job's speed.",
        "Its settings. Write pairs of an S and a speed: 0=0 255=24000. Leave it open if S is the"
        " speed.",
        fields=(at("spindle.numbers"),), when=_SPEED,
    ),
    Question(
        "reverse", "Does M4 turn it the other way?",
        "Jobs with M4 are refused where it does not: most bits would loosen or burn.",
        "Its manual, or the wiring plan. Do not try it.",
        fields=(at("spindle.reverse"),), when=_BY_WORD,
    ),
)  # fmt: skip
