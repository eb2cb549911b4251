"""The touch plate and its clip."""

from headrace.interview.question import Question, at, when

_THERE = (when("probe", True),)

QUESTIONS = (
    Question(
        "probe", "Is there a touch plate with a clip, wired to the controller?",
        "With it a file finds the top of the sheet by touching; without it you set Z by hand.",
        "Look for a lead with a clip and a plate. T09PROBE shows whether touching stops the"
        " machine, with the head high up.",
        part="probe", first=True, card_file="T09PROBE",
    ),
    Question(
        "probe-feeds", "How fast shall it go down for the first touch, and for the second?",
        "The second touch is the one that counts; a slow one presses less on plate and bit.",
        "Usual are 100 to 200 and 20 to 50. Take less for a thin bit.",
        fields=(at("probe.quick"), at("probe.slow")), when=_THERE, first=True,
    ),
    Question(
        "probe-word", "Which word probes?",
        "The file goes down by it and stops where the plate is touched.",
        "Its manual; mostly G38.2.",
        fields=(at("probe.word"),), when=_THERE, first=True, card_file="T09PROBE",
    ),
    Question(
        "probe-lowest", "Is there a number below which it lets no probe aim?",
        "Some start no probe that aims below zero. Files give Z higher numbers first then.",
        "T08LOW aims below zero, high above the bed. If it does not start: answer 0. If it"
        " goes down and stops with an alarm: leave it open.",
        fields=(at("probe.lowest-target"),), when=_THERE, first=True, card_file="T08LOW",
    ),
    Question(
        "probe-lead", "How far does the clip's lead let the head go from where you put it on?",
        "A head that goes farther tears it off.",
        "Put the clip on and measure the slack to the side.",
        fields=(at("probe.lead"),), when=_THERE,
    ),
    Question(
        "probe-reaction", "How long from touching until the axis begins to slow down?",
        "So far the bit runs on into the plate; headrace refuses feeds that press too deep.",
        "Its manual; leave it open if it says nothing.",
        fields=(at("probe.reaction"),), when=_THERE,
    ),
)  # fmt: skip
