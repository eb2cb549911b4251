"""What the machine is called, how it reads comments, and how it waits for its operator."""

from headrace.interview.question import Question, at, when

_SHOWN = (when("comments", "parentheses", "semicolon", "both"),)

QUESTIONS = (
    Question(
        "name", "What do you call this machine?",
        "Reports and run sheets carry this name, so that no card goes to the wrong machine.",
        "Choose a name that tells it from any other machine in the workshop.",
        fields=(at("name"),),
    ),
    Question(
        "comments", "How may a note stand in a program, so that the machine does not act on it?",
        "Every file says in notes what it is and what to watch. A wrong kind stops the machine with"
        " an error, or is carried out.",
        "Look into its manual under comments, or into a program that has run on it: text in ( ), or"
        " text behind a semicolon.",
        fields=(at("comments"),),
        choices={
            "parentheses": "text between ( and )",
            "semicolon": "text from ; to the end of the line",
            "both": "either of them",
            "none": "neither: notes are left out",
        },
    ),
    Question(
        "pause-word", "Which M word makes it stop and wait until you press its button?",
        "Where you must do something (put the clip on, switch the router) the file stops with this"
        " word. If it did not wait, it would go on over your hands.",
        "Its manual calls it program stop; mostly M0. The first test file shows that it waits.",
        fields=(at("pause.word"),), needed=True, card_file="T01PAUSE",
    ),
    Question(
        "pause-text", "Where must a text stand so that the machine shows it while it waits?",
        "The texts tell you what to do at each stop: CLIP ON, CLIP OFF, SPINDLE ON.",
        "Run the first test file: it waits twice, and each time another text may be shown.",
        fields=(at("pause.text"),), when=_SHOWN, first=True, card_file="T01PAUSE",
        choices={
            "before": "in a note on the line before the word",
            "same-line": "in a note behind the word, on its line",
            "none": "it shows no text",
        },
    ),
    Question(
        "pause-width", "How many characters of the text does it show?",
        "Longer texts are cut, and the end of an order may be the part that matters.",
        "The first test file shows a text that counts its own places: a letter at each ten (A is"
        " 10, B is 20), a + at each five, points between. B and two points behind it is 22.",
        fields=(at("pause.width"),), first=True, card_file="T01PAUSE",
        when=(*_SHOWN, when("pause.text", "before", "same-line")),
    ),
    Question(
        "dwell", "G4 P2 waits: for two seconds, or for two thousandths of a second?",
        "The spindle gets its time to run up and down by G4. A thousandth of that, and a bit enters"
        " the wood before it turns.",
        "Run the test file with a watch: it waits twice for you, and between the two for G4 P2. Do"
        " not go by the manual alone.",
        fields=(at("dwell"),), card_file="T02DWELL",
        choices={"seconds": "P counts seconds", "milliseconds": "P counts thousandths"},
    ),
    Question(
        "end", "Which word ends a program?",
        "It is the last word of every file that is written.",
        "Look at the end of a program that has run on it, or into its manual.",
        fields=(at("end"),), first=True,
    ),
    Question(
        "percent", "Must a file begin and end with a line that holds only % ?",
        "Some readers need these lines, others stop at them with an error.",
        "Look at the first and last line of a program that has run on it.",
        fields=(at("percent"),),
    ),
)  # fmt: skip
