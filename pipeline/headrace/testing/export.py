"""Made-up CAM exports: small sound programs with everything that such files hold."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from headrace.testing.manner import UNIT, Manner

_NOTES = ("LID, BOARD SIDE", "FRAME REST", "ENTRANCE", "hand hold 2", "BEE SPACE 8 MM", "tool: 6")
_CLEAR, _FLUSH = 5, 1
"""Heights (units above the sheet) for rapids between cuts, and for the way down."""


def export(random: Random) -> bytes:
    """A program of some 10 to 60 lines, as some CAM program might write it. The same for the same
    state of `random`."""
    writer = Export(random, Manner.drawn(random))
    writer.begin()
    for _ in range(random.choice((0, 1, 1, 2, 2, 3, 4))):
        random.choices(writer.features, writer.weights)[0]()
    writer.finish()
    return writer.manner.written(writer.lines)


class Export:
    """The lines so far, and how things stand behind them: place (thousandths of a unit), the motion
    word in force, the feed."""

    def __init__(self, random: Random, manner: Manner) -> None:
        self.random = random
        self.manner = manner
        self.lines: list[str] = []
        self.place: dict[str, int] = {"X": 0, "Y": 0, "Z": 0}
        self.motion: str = ""
        self.feed: int = 0
        self.tool: int = 0
        self.increments: bool = False
        # inches are few, so that a job stays on the sheet
        self.size = 4 if manner.inch else 100
        offered: dict[Callable[[], None], int] = {
            self.outline: 4,
            self.passes: 2,
            self.corners: 3,
            self.bore: 2,
            self.holes: 2,
            self.in_increments: 2,
            self.dwell: 1,
            self.stop: 2,
            self.suction: 1,
            self.next_tool: 1,
            self.other_offset: 1,
            self.optional: 1,
            self.speed: 1,
            self.remark: 2,
        }
        self.features: list[Callable[[], None]] = list(offered)
        self.weights: list[int] = list(offered.values())

    # --- lines --------------------------------------------------------------------------------

    def put(self, *words: str, note: str = "") -> None:
        self.lines.append(self.manner.line(words, note))

    def go(self, code: str, *, feed: int = 0, **to: int) -> None:
        """A move to a place (thousandths), with centre or radius words where it is an arc."""
        arc = code in ("G2", "G3")
        words = [] if self.manner.sticky and code == self.motion and not arc else [code]
        for letter, value in to.items():
            counts_on = self.increments and letter in self.place
            told = value - self.place[letter] if counts_on else value
            words.append(letter + self.manner.number(told))
            if letter in self.place:
                self.place[letter] = value
        if feed and feed != self.feed:
            words.append(f"F{feed}")
            self.feed = feed
        self.motion = code
        self.put(*words)

    def somewhere(self) -> tuple[int, int]:
        """A place on the sheet, a quarter of a unit apart at least."""
        step = UNIT // 4
        return (
            self.random.randrange(2 * 4, self.size * 4) * step,
            self.random.randrange(2 * 4, self.size * 3) * step,
        )

    def pace(self) -> int:
        """A feed in units a minute."""
        return self.random.choice((20, 30, 40) if self.manner.inch else (400, 600, 900, 1250))

    def down(self, depth: int | None = None) -> None:
        """To a place above the sheet, and into it."""
        x, y = self.somewhere()
        self.go("G0", X=x, Y=y)
        self.go("G0", Z=_FLUSH * UNIT // (10 if self.manner.inch else 1))
        self.go("G1", Z=self.deep() if depth is None else depth, feed=self.pace())

    def up(self) -> None:
        self.go("G0", Z=self.clear)

    @property
    def clear(self) -> int:
        return UNIT if self.manner.inch else _CLEAR * UNIT

    def deep(self) -> int:
        return -self.random.choice((20, 100, 125) if self.manner.inch else (500, 1500, 3000))

    # --- the whole ----------------------------------------------------------------------------

    def begin(self) -> None:
        """The header, as far as there is one, and the way above the sheet."""
        random, manner = self.random, self.manner
        if random.random() < 0.6:
            self.remark()
        if manner.header or manner.inch:
            words = ["G20" if manner.inch else "G21", "G90", "G17", "G94"]
            words = words[: random.randint(2, 4)]
            if random.random() < 0.5:
                self.put(*words)
            else:
                for word in words:
                    self.put(word)
        if random.random() < 0.3:
            self.put("G54")
        if random.random() < 0.4:
            self.tool = 1
            self.put("T1", "M6")
        if random.random() < 0.8:
            self.put(*random.choice((("S18000", "M3"), ("M3", "S18000"), ("M3", "S12000"))))
        x, y = self.somewhere()
        self.go("G0", Z=self.clear)
        self.go("G0", X=x, Y=y)

    def finish(self) -> None:
        if self.random.random() < 0.7:
            self.put("M5")
        if self.random.random() < 0.2:
            self.go("G0", X=0, Y=0)
        if self.manner.last:
            self.put(self.manner.last)

    # --- what it cuts -------------------------------------------------------------------------

    def outline(self) -> None:
        """A few straight cuts."""
        self.down()
        for _ in range(self.random.randint(2, 6)):
            x, y = self.somewhere()
            to: dict[str, int] = self.random.choice(({"X": x}, {"Y": y}, {"X": x, "Y": y}))
            feed = self.pace() if self.random.random() < 0.2 else 0
            self.go("G1", feed=feed, **to)
        self.up()

    def passes(self) -> None:
        """A groove, deeper each time; the last pass goes where the tool is already."""
        depth = self.deep()
        self.down(depth)
        left, right = self.place["X"], self.place["X"] + self.size // 4 * UNIT
        for count in range(1, self.random.randint(3, 4)):
            self.go("G1", X=right if count % 2 else left)
            self.go("G1", Z=depth + count * (depth // 4))
        self.up()

    def corners(self) -> None:
        """Straight cuts with quarters of circles between them, by centre or by radius."""
        self.down()
        radius = self.random.choice((1, 2)) * UNIT // 4
        for code, across in (("G2", 1), ("G3", -1)):
            x, y = self.place["X"], self.place["Y"]
            self.go("G1", Y=y + radius)
            # about the right-hand side: clockwise from due left of the centre to above it
            turn = radius if code == "G2" else -radius
            centre = {"I": turn, "J": 0} if self.manner.centres else {"R": radius}
            self.go(code, X=x + across * radius, Y=y + 2 * radius, **centre)
        self.up()

    def bore(self) -> None:
        """A whole circle, or a helix."""
        self.down()
        radius = self.random.choice((1, 2, 3)) * UNIT // 4
        x, y, z = (self.place[axis] for axis in "XYZ")
        code = self.random.choice(("G2", "G3"))
        centre = {"I": -radius, "J": 0}
        if self.random.random() < 0.5:
            self.go(code, X=x, Y=y, Z=z + z // 4, **centre)
        self.go(code, X=x, Y=y, **centre)
        self.up()

    def holes(self) -> None:
        """A drilling cycle with sticky words."""
        x, y = self.somewhere()
        number = self.manner.number
        cycle = self.random.choice(("G81", "G82", "G83"))
        depth = self.deep()
        self.feed = self.pace()
        words = [cycle, f"X{number(x)}", f"Y{number(y)}", f"Z{number(depth)}"]
        words += [f"R{number(UNIT // 10 if self.manner.inch else UNIT)}", f"F{self.feed}"]
        words += {"G82": ["P0.5"], "G83": [f"Q{number(-depth // 2)}"]}.get(cycle, [])
        self.put(*(["G98"] if self.random.random() < 0.5 else []), *words)
        for _ in range(self.random.randint(0, 3)):
            x, y = self.somewhere()
            self.put(f"X{number(x)}", f"Y{number(y)}")
        self.place |= {"X": x, "Y": y}
        self.put("G80")
        self.motion = ""
        self.up()

    def in_increments(self) -> None:
        """A stretch that counts from where it stands."""
        self.down()
        self.put("G91")
        self.increments = True
        for axis, way in (("X", 1), ("Y", 1), ("X", -1)):
            far = way * self.random.randint(1, 4) * UNIT // 4
            self.go("G1", feed=0, **{axis: self.place[axis] + far})
        self.put("G90")
        self.increments = False
        self.up()

    # --- what happens between cuts ------------------------------------------------------------

    def dwell(self) -> None:
        self.put("G4", self.random.choice(("P0.5", "P1", "P2.5")))

    def stop(self) -> None:
        """A pause, with a text above it, beside it, or none."""
        word = self.random.choice(("M0", "M0", "M1"))
        kind = self.random.randrange(3)
        if kind == 1:
            self.remark()
        self.put(word, note="TURN THE LID" if kind == 2 else "")

    def suction(self) -> None:
        """Extraction on for one cut."""
        self.put("M8")
        self.outline()
        self.put("M9")

    def next_tool(self) -> None:
        self.tool += 1
        self.put("M5")
        self.put(f"T{self.tool}", "M6")
        self.put("M3", "S16000")

    def other_offset(self) -> None:
        """A cut in another work offset system, and back."""
        self.put("G55")
        self.outline()
        self.put("G54")
        self.up()

    def optional(self) -> None:
        """A line that a switch may leave out."""
        self.lines.append("/" + self.manner.line(("M8",)))

    def speed(self) -> None:
        self.put(self.random.choice(("S14000", "S20000", "S9000")))

    def remark(self) -> None:
        self.lines.append(self.manner.note(self.random.choice(_NOTES)))
