"""One mistake in a file of the gallery each, as one makes them while typing.

`¦` in the new piece marks where it must be shown; it is taken out before anybody reads the file.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

MARK = "¦"
LIDS = "bench-lids.yaml"
BENCH = "machines/bench-hand-switched.yaml"
SHEET = "machines/shop-speed-controlled.yaml"
SETUP = "setups/lids-18.yaml"


@dataclass(frozen=True)
class Mistake:
    """A piece of a file, what is written instead, and words that an editor's message has. `told`
    is how often the server tells of it, and `found` how often headrace does, once as a rule."""

    says: str
    file: str
    old: str
    new: str
    words: str
    told: int = 1
    found: int = 1

    def text(self, folder: Path) -> str:
        return self._marked(folder).replace(MARK, "")

    def place(self, folder: Path) -> tuple[int, int]:
        """Line and column of the mark, from 1."""
        before = self._marked(folder).partition(MARK)[0]
        return before.count("\n") + 1, len(before.rpartition("\n")[2]) + 1

    def _marked(self, folder: Path) -> str:
        text = (folder / self.file).read_text("utf-8")
        assert text.count(self.old) == 1, self.says
        return text.replace(self.old, self.new)


MISTAKES = [
    # --- steps and their options --------------------------------------------------------------
    Mistake("a misspelt step", LIDS, "- park", "- ¦prak", '"park"'),
    Mistake("a misspelt step with options", LIDS, "touch-off:", "¦tuoch-off:", "tuoch-off"),
    Mistake("a step that needs options", LIDS, "pause: {at: start, text: \"EXTRACTION ON?\"}",
            "¦pause", '"park"', found=2),
    Mistake("a required option left out", LIDS, "pause: {at: start, ", "¦pause: {", '"at"'),
    Mistake("a misspelt option", LIDS, "{gap: 3", "{¦gab: 3", "gab"),
    Mistake("text for a number", LIDS, "{margin: 2}", "{margin: ¦two}", "number"),
    Mistake("a number for true or false", LIDS, "{remove: true}", "{remove: ¦1}", "boolean"),
    Mistake("a word that is none of those", LIDS, "missing: start", "missing: ¦strat", '"refuse"'),
    Mistake("a number out of its bounds", LIDS, "back-off: 2", "back-off: ¦-2", "minimum"),
    Mistake("a width that is no whole number", LIDS, "width: 20", "width: ¦20.5", "integer"),
    Mistake("options that are one value", LIDS, "- park", "- park: ¦5", "object"),
    Mistake("a step that is a number", LIDS, "- park", "- ¦5", '"park"'),
    Mistake("an option of a step of one's own", "swarm-warning.yaml", "swarm-warning: {text:",
            "swarm-warning: {¦txt:", "txt"),
    Mistake("a value of a step of one's own", "swarm-warning.yaml",
            'swarm-warning: {text: "SHUTTER CLOSED? EXTRACTION ON?"}', "swarm-warning: {text: ¦7}",
            "string"),
    # --- the recipe itself --------------------------------------------------------------------
    Mistake("a misspelt key of a recipe", LIDS, "setup: setups", "¦setpu: setups", "setpu"),
    Mistake("a list where a path belongs", "swarm-warning.yaml", "extends: relay-frames.yaml",
            "extends: ¦[relay-frames.yaml]", "string"),
    Mistake("a key that a card file lacks", "bench-setup-cards.yaml", "- name: TOUCH\n    title:",
            "- ¦title:", '"name"'),
    # --- machines -----------------------------------------------------------------------------
    Mistake("a misspelt key of a machine", BENCH, "bed: 108", "¦bet: 108", "bet"),
    Mistake("a decimal comma", BENCH, "bed: 108", "bed: ¦108,5", "number"),
    Mistake("a negative height", BENCH, "bed: 108", "bed: ¦-108", "minimum"),
    Mistake("a misspelt end", BENCH, "x: {travel: [0, 620], home-end: low",
            "x: {travel: [0, 620], home-end: ¦lo", '"low", "high"'),
    Mistake("one number of two", BENCH, "travel: [0, 620]", "travel: ¦[620]", "items"),
    Mistake("an axis without a feed", BENCH, "  x: {travel: [0, 620], home-end: low,"
            " homed-number: 0, rapid: 4000, feed: 3000, ", "  ¦x: {travel: [0, 620],"
            " home-end: low, homed-number: 0, rapid: 4000, ", '"feed"'),
    Mistake("a required key misspelt", BENCH, "  slow: 30 ", "  ¦slwo: 30 ", "slwo", told=2),
    Mistake("a homing word that is none", BENCH, "word: G28 ", "word: ¦28G ", "pattern"),
    Mistake("an axis that is none", BENCH, "[[z], [x, y]]", "[[z], [x, ¦u]]", '"x", "y", "z"'),
    Mistake("two rules for corners", BENCH, "{deviation: 0.02}",
            "¦{deviation: 0.02, full-stop: true}", "more properties"),
    Mistake("a dwell that counts nothing", BENCH, "dwell: milliseconds", "dwell: ¦minutes",
            '"seconds"'),
    Mistake("text for true or false", BENCH, "percent: false ", "percent: ¦no-frame ", "boolean"),
    Mistake("a system that is none", SHEET, "[G54, G55, G56, G57, G58, G59]", "[G54, ¦G50]",
            '"G54", "G55"'),
    # --- set-ups ------------------------------------------------------------------------------
    Mistake("a misspelt key of a set-up", SETUP, "safe-height:", "¦safe-hight:", "safe-hight"),
    Mistake("text for a thickness", SETUP, "thickness: {least: 17.6, most: 18.1}",
            "thickness: ¦thin", "number"),
    Mistake("a least without a most", SETUP, "thickness: {least: 17.6, most: 18.1}",
            "¦thickness: {least: 17.6}", '"most"'),
    Mistake("a clamp without a top", SETUP, "{name: back, from: [270, 480], to: [310, 520],"
            " top: 8}", "¦{name: back, from: [270, 480], to: [310, 520]}", '"top"'),
    Mistake("a clamp that is called by a number", SETUP, "name: left", "name: ¦1", "string"),
]  # fmt: skip
