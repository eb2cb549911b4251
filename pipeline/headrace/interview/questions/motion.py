"""How the controller moves: rapids, corners, accelerations."""

from headrace.interview.question import Question, at, of_axes

QUESTIONS = (
    Question(
        "rapids", "Does G0 go straight to a place, or each axis at its own speed?",
        "If each axis goes by itself, the head leaves the straight line: it may meet a clamp.",
        "T05RAPID goes 120 mm in X and 30 in Y by G0, three times, with Z up. A slanting line all"
        " the way is straight; first slanting, then along X only, is each axis by itself.",
        fields=(at("rapids"),), card_file="T05RAPID",
        choices={"straight": "straight", "each-axis": "each axis at its own speed"},
    ),
    Question(
        "acceleration", "How fast do X, Y and Z gain and lose speed?",
        "How far a probe runs on follows from it; touch-off refuses without it. Planned times too.",
        "Its settings or its manual.",
        fields=of_axes("acceleration"), first=True,
    ),
    Question(
        "corners", "By which rule does it take corners between moves?",
        "Planned times follow from it.",
        "Its settings or its manual. Write the rule and its number: deviation 0.02, or speed-step"
        " 300, or full-stop.",
        fields=(at("corners"),),
    ),
    Question(
        "look-ahead", "How many moves does it know in advance?",
        "With few, many short moves go slowly.",
        "Its manual.",
        fields=(at("look-ahead"),),
    ),
    Question(
        "line-rate", "How many lines does it carry out in a second, reading from the card?",
        "Lines that are too short for that let it stutter, and burn the wood.",
        "Time a file of 2000 moves of 0.1 mm.",
        fields=(at("line.rate"),),
    ),
)  # fmt: skip
