"""Homing, and the space that the axes have; all numbers as shown right after homing."""

from headrace.interview.question import Question, at, of_axes, when

_BY_WORD = (when("homing.by", "word"),)
_TRAVEL_WHY = (
    "Nothing is planned beyond these numbers. A wrong one drives an axis into its end, where it"
    " loses its place or bends something."
)
_TRAVEL_HOW = (
    "Home, with no bit in the collet and the bed clear. Move by hand to the other end, in steps of"
    " 1 mm and slower for the last 20, and stop 1 mm before anything touches. Read both numbers,"
    " of the same kind as homed-numbers. Z: never down to the bed; stop 5 mm above it."
)


def _travel(letter: str, along: str) -> Question:
    return Question(
        f"travel-{letter}", f"What does it show at both ends of {letter.upper()}, {along}?",
        _TRAVEL_WHY, _TRAVEL_HOW, fields=(at(f"axes.{letter}.travel"),),
    )  # fmt: skip


QUESTIONS = (
    Question(
        "homing-by", "How does it find home: by a word in a program, or do you do it at the panel?",
        "Before it has been home, the machine does not know where it is; every file begins there.",
        "By a word counts only if the axes run to their switches. Many machines have a word that"
        " goes to a stored place instead: answer by-hand then.",
        fields=(at("homing.by"),),
        choices={
            "word": "a word in the file sends the axes to their switches",
            "by-hand": "you home it at the panel; files ask for it",
        },
    ),
    Question(
        "homing-word", "Which G word sends the axes to their switches?",
        "It is the first motion in every file. On some machines the same word goes through a point"
        " on its way, and may dive.",
        "Its manual, under reference position or homing; often G28. Then run the test files, hand"
        " on the emergency stop: T03HOME shows whether it touches its switches, T04WAY whether it"
        " goes straight. If it goes the other way first: answer by-hand to homing-by.",
        fields=(at("homing.word"),), when=_BY_WORD, needed=True, card_file="T04WAY",
    ),
    Question(
        "homing-axes", "Does the word home the axes named on its line, or always all of them?",
        "With named axes Z goes up first, by itself, before anything moves sideways.",
        "Its manual. If that says nothing, answer named and run T03HOME: X and Y going along with Z"
        " mean all. Do not type the word at the panel: with Z0 behind it Z may dive.",
        fields=(at("homing.axes"),), when=_BY_WORD, first=True,
        choices={"named": "only those named on its line", "all": "all axes at once"},
    ),
    Question(
        "homed-numbers", "Which numbers does it show for X, Y and Z when homing is done?",
        "Every place that headrace plans counts from these numbers.",
        "Switch it off and on, so that no work zero is left, home it, and read its display, signs"
        " included. Where it stores work zeros (G54): the machine's own numbers, not those of the"
        " work zero. The test file homes one axis at a time and waits for you to read.",
        fields=of_axes("homed-number"), card_file="T03HOME",
    ),
    Question(
        "home-ends",
        "At which end does each axis touch its switch: where its numbers are low, or high?",
        "It tells which way is away from the switch, and which way Z goes up.",
        "After homing move each axis a few mm away from its switch: do its numbers rise? Then the"
        " switch is at the low end; if they fall, at the high end. Z homes up: high.",
        fields=of_axes("home-end"), card_file="T03HOME",
        choices={
            "low": "away from the switch the numbers rise",
            "high": "away from the switch the numbers fall",
        },
    ),
    _travel("x", "along the gantry"),
    _travel("y", "the way of the gantry or the bed"),
    _travel("z", "up and down; more is up"),
    Question(
        "back-off", "How far does each axis come back from its switch after touching it?",
        "Between the switch and where it stands then there is room that belongs to the travel.",
        "Home it and watch: most touch, then come back 1 to 5 mm. 0 where an axis stays. Its"
        " settings say how far, often under pull-off.",
        fields=of_axes("back-off"), first=True, card_file="T03HOME",
    ),
    Question(
        "soft-limits", "What does it do with a move that ends outside its travel?",
        "A machine that cuts such moves short without a word spoils the part, and one that does not"
        " look runs into its end. headrace checks every move against it.",
        "Never try it at the real end. Its manual or settings: soft limits. T06LIMIT shows it in"
        " the middle of the travel, if the settings let you make X shorter for a while. Otherwise"
        " by hand: 20 mm before the end, in steps of 1 mm, see whether it stops by itself; not"
        " nearer than 2 mm to where something touches.",
        fields=(at("soft-limits.action"),), first=True, card_file="T06LIMIT",
        choices={
            "none": "it goes there",
            "clamps": "it cuts the move short, without a word",
            "alarms": "it stops with an alarm before it moves",
        },
    ),
    Question(
        "soft-limit-numbers", "Which numbers does it compare with its travel then?",
        "If those that are shown, a work zero shifts its limits too.",
        "T07SHOWN changes the number of X in the middle of the travel and moves 5 mm.",
        fields=(at("soft-limits.numbers"),), first=True, card_file="T07SHOWN",
        when=(when("soft-limits.action", "clamps", "alarms"),),
        choices={
            "machine": "those of the machine, whatever the work zero is",
            "shown": "those that the display shows now",
        },
    ),
    Question(
        "rapid", "How fast does each axis go at most in a rapid (G0): X, Y and Z?",
        "Times and the space to slow down follow from it.",
        "Its settings or its manual. Or with a watch, after homing: by G0 200 mm there and back in"
        " the middle of the travel, one axis at a time, the bed clear.",
        fields=of_axes("rapid"),
    ),
    Question(
        "feed", "How fast may each axis go at most in a cut: X, Y and Z?",
        "Feeds beyond that are told, since the axis would lag or lose its place.",
        "Its settings or its manual; never more than the rapid.",
        fields=of_axes("feed"),
    ),
    Question(
        "homing-order", "In which order are the axes homed?",
        "Up comes first: then nothing on the bed is struck.",
        "Watch it. Write groups: z xy means Z first, then X and Y together.",
        fields=(at("homing.order"),), when=_BY_WORD,
    ),
    Question(
        "homing-feed", "How fast do the axes run to their switches?",
        "The planned time of a file counts the homing too.",
        "Its settings; or the way to the switch by the time that a watch shows.",
        fields=(at("homing.feed"),), when=_BY_WORD,
    ),
)  # fmt: skip
