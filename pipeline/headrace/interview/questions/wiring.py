"""What else the controller switches."""

from headrace.interview.question import Question, at

QUESTIONS = (
    Question(
        "outputs", "What do other M words switch on, such as extraction or a vacuum table?",
        "Files may use these words, and no others.",
        "The wiring plan or its manual. Write pairs: M8=extraction, M7=vacuum table; none if"
        " nothing is wired.",
        fields=(at("outputs"),),
    ),
    Question(
        "outputs-off", "Which words switch them off again, if M9 does not?",
        "What holds or draws off must not stay on, or go off at the wrong time.",
        "The manual. Write pairs: M64=M65. none if M9 does it for all.",
        fields=(at("outputs-off"),),
    ),
    Question(
        "hold-down", "Which of them holds the sheet down?",
        "It may not go off while the bit turns.",
        "The word of the vacuum table; none if the sheet is clamped.",
        fields=(at("hold-down"),),
    ),
    Question(
        "tool-change", "Who changes the bit?",
        "By hand, a file stops for it and touches off again.",
        "Look.",
        fields=(at("tool-change"),),
        choices={"by-hand": "you do, at a stop", "changer": "the machine itself"},
    ),
)  # fmt: skip
