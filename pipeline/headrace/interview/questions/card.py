"""What the card reader takes as file names."""

from headrace.interview.question import Question, at

QUESTIONS = (
    Question(
        "card-names", "Which file names does it list: short ones only, or long ones too?",
        "A file whose name it cannot read is not on its list.",
        "Look at its list. Names such as LONGNA~1 mean short.",
        fields=(at("card.names"),), first=True,
        choices={"short": "eight characters, a point and three", "long": "longer ones too"},
    ),
    Question(
        "card-extension", "What must stand behind the point of a file's name?",
        "It lists only such files.",
        "Look at the files on a card that it has read.",
        fields=(at("card.extension"),), first=True,
    ),
    Question(
        "card-order", "In which order does it list the files?",
        "Cards with several files are written so that the list stands in run order.",
        "Copy three files in the order C, A, B and look.",
        fields=(at("card.order"),),
        choices={"by-name": "A B C", "as-written": "C A B, as they were copied"},
    ),
    Question(
        "card-numbered", "Shall names begin with their turn, such as 01LID and 02FRAME?",
        "Then a list by name stands in run order.",
        "As you like; it takes two characters of each name.",
        fields=(at("card.numbered"),),
    ),
)  # fmt: skip
