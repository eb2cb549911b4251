"""How much of the language the controller reads."""

from headrace.interview.question import Question, at

QUESTIONS = (
    Question(
        "line-end", "What ends a line for it?",
        "Some readers take a file with other line ends for one long line.",
        "A program that has run on it, in an editor that shows line ends. Leave it open if you do"
        " not know.",
        fields=(at("line.end"),),
    ),
    Question(
        "line-length", "How many characters of a line does it read at most?",
        "What stands behind them would be lost.",
        "Its manual.",
        fields=(at("line.length"),),
    ),
    Question(
        "line-numbers", "May lines have numbers (N10), must they, or must they not?",
        "headrace writes or takes them out accordingly.",
        "Its manual, or programs that have run on it.",
        fields=(at("line.numbers"),),
    ),
    Question(
        "units", "Which units of length does it read?",
        "Jobs in another unit are rewritten by the step `adapt`.",
        "Its manual: G21 is mm, G20 is inch.",
        fields=(at("units"),),
    ),
    Question(
        "decimals", "How many places behind the point does it read?",
        "More are rounded by the step `adapt`, and proved to be near enough.",
        "Its manual; 3 is usual.",
        fields=(at("decimals"),),
    ),
    Question(
        "arc-forms", "How may an arc (G2, G3) be said?",
        "Jobs that say it otherwise are rewritten by the step `adapt`.",
        "Its manual: I and J name the centre, R the radius. none if it reads no arcs.",
        fields=(at("arcs.forms"),),
        choices={"centre": "I and J", "radius": "R"},
    ),
    Question(
        "helix", "May an arc go up or down on its way?",
        "Helices are cut into flat pieces by the step `adapt` where it may not.",
        "Its manual, under helical interpolation.",
        fields=(at("arcs.helix"),),
    ),
    Question(
        "cycles", "Which drilling cycles does it read?",
        "Others are written out as moves by the step `adapt`.",
        "Its manual: G81, G82, G83 and others; none if it has none.",
        fields=(at("cycles"),),
    ),
    Question(
        "optional-lines", "What does it do with lines that begin with a slash?",
        "Jobs with such lines are made certain, or refused.",
        "Its manual, under block delete.",
        fields=(at("optional-lines"),),
        choices={
            "left-out": "it leaves them out",
            "run": "it runs them",
            "switch": "a switch on its panel decides",
            "refused": "it stops with an error",
        },
    ),
)  # fmt: skip
