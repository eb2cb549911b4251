"""The space above the bed, and what stands in it."""

from headrace.interview.question import Question, at, when

QUESTIONS = (
    Question(
        "bed", "How far is it from the collet's face down to the spoilboard, with Z at its top?",
        "From this and the sheet's thickness follow how far a probe may go and how high the head"
        " can clear.",
        "No bit. Z at the upper end of its travel, as the numbers say it: if it homes and comes"
        " back 3 mm, add these 3. Measure with a rod or a rule, spindle isolated.",
        fields=(at("bed"),), first=True,
    ),
    Question(
        "spoilboard", "How thick is the spoilboard at its thinnest?",
        "Below it is the bed itself: no cut goes deeper.",
        "Measure at its edges, and subtract the deepest groove in it.",
        fields=(at("spoilboard"),), first=True,
    ),
    Question(
        "nut", "How wide is the collet nut, over its corners?",
        "A deep cut beside a wall, or beside a clamp, meets the nut before the bit.",
        "With callipers, the spindle isolated.",
        fields=(at("nut"),),
    ),
    Question(
        "shoe", "Does an extraction shoe go up and down with the spindle?",
        "It is wider than the nut, and meets clamps first.",
        "Look. One that stays at a fixed height does not count.",
        part="shoe",
    ),
    Question(
        "shoe-size", "How wide is the shoe, and how far does it reach below the collet?",
        "These two numbers keep it away from clamps and from the sheet.",
        "Measure without the bristles. Above the collet's face is a negative number.",
        fields=(at("shoe.diameter"), at("shoe.below-collet")), when=(when("shoe", True),),
    ),
    Question(
        "margin", "How near to an end of travel may anything be planned?",
        "A little room keeps axes off their switches.",
        "1 to 3 mm is usual.",
        fields=(at("margin"),),
    ),
    Question(
        "park", "Where shall the head wait at the end: X, Y and Z, as shown right after homing?",
        "Files end there: up, and out of your way.",
        "Move there by hand after homing and read the numbers.",
        fields=(at("park.x"), at("park.y"), at("park.z")),
    ),
)  # fmt: skip
