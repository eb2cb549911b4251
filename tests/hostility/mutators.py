"""Mutators: from sound files to hostile ones. Each draws on a `random.Random` and nothing else.

Jobs are changed as bytes, words, lines and blocks of lines; recipes, machines and set-ups as trees
of YAML. Trees are written by a writer of our own, since the odd spellings are the point of it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from random import Random
from typing import Any

import yaml

BYTES = (b"\0", b"\x1b[2J", b"\xef\xbb\xbf", b"\xff\xfe", b"\xe2\x80\xae", b"\xe2\x80\xa8", b"\xc3",
         b"\r", b"\n", b"\r\n", b"\x1a", b"\x7f", b"\x85", b"\t", b"%", b"/", b"(", b")", b";",
         b"[", b"]", b"#", b"=", b"*", b"**", b"-", b"+", b".", b"0", b"9" * 30, b"E5",
         b"\xc2\xb2", b"\xd9\xa1", b"\xef\xbc\x91", b"\xc4\xb1", b"\xc5\xbf")  # fmt: skip
"""Among them: superscript two, an Arabic and a wide digit one, letters whose capital is ASCII."""

NUMBERS = (b"0", b"-0", b".5", b"5.", b"-", b".", b"1e3", b"1" * 15, b"9" * 16, b"9" * 40,
           b"9" * 400, b"0." + b"0" * 30 + b"1", b"-9999999", b"99999.99999", b"2147483648",
           b"9223372036854775808", b"1.0001", b"1.00001", b"[1/0]", b"[2**9999]", b"[0-1]**0.5",
           b"#1", b"#5220", b"#99999", b"#[1/0]", b"##1", b"[[[[1]]]]", b"ATAN[1]/[0]", b"LN[0]",
           b"SQRT[-1]", b"[1 MOD 0]", b"[EXP[999]]", b"[10**300*10**300]", b"+-1", b"1,5",
           b"nan", b"inf", b"--1", b"0x10", b"1_0")  # fmt: skip
WORDS = (b"G0", b"G1", b"G2", b"G3", b"G4 P1", b"G10 L2 P1", b"G17", b"G18", b"G19", b"G20", b"G21",
         b"G28", b"G28.1", b"G30", b"G38.2", b"G40", b"G41", b"G43 H1", b"G49", b"G53", b"G54",
         b"G55", b"G59.3", b"G61", b"G64", b"G73", b"G80", b"G81", b"G82", b"G83", b"G85", b"G88",
         b"G89", b"G90", b"G91", b"G92", b"G92.1", b"G92.2", b"G93", b"G94", b"G95", b"G98", b"G99",
         b"G90.1", b"G91.1", b"M0", b"M1", b"M2", b"M3", b"M4", b"M5", b"M6", b"M7", b"M8", b"M9",
         b"M30", b"M48", b"M49", b"M60", b"M98", b"M99", b"T1", b"T0", b"S0", b"S18000", b"F0",
         b"F600", b"L0", b"L99999", b"L1000000", b"Q0", b"Q.00001", b"R0", b"R-5", b"P0", b"P1e9",
         b"N1", b"N999999", b"/", b"%", b"X", b"Y1", b"Z-1", b"A5", b"I0 J0", b"K1", b"D1", b"H1",
         b"O100", b"U1", b"#1=2", b"#5221=9", b"#[#1]=#1", b"(MSG,LIFT)", b"( (x) )", b"(",
         b"; a", b"E1")  # fmt: skip

_TOKEN = re.compile(rb"[A-Za-z#][ \t]*[-+]?[0-9.]++|\([^()\r\n]*+\)|[^\s]")
_NUMBER = re.compile(rb"[-+]?[0-9]++\.?[0-9]*+")


# --- jobs -------------------------------------------------------------------------------------


def mutated_job(random: Random, data: bytes, other: bytes) -> bytes:
    """`data` after one to six mutations, some of which take parts of `other`."""
    for _ in range(random.choice((1, 1, 1, 2, 3, 6))):
        data = random.choice(_JOB_MUTATORS)(random, data, other)
    return data


def _byte(random: Random, data: bytes, _other: bytes) -> bytes:
    at = random.randrange(len(data) + 1)
    return data[:at] + bytes([random.randrange(256)]) + data[at + random.randrange(2) :]


def _bit(random: Random, data: bytes, _other: bytes) -> bytes:
    if not data:
        return b"\x80"
    at = random.randrange(len(data))
    return data[:at] + bytes([data[at] ^ (1 << random.randrange(8))]) + data[at + 1 :]


def _odd_bytes(random: Random, data: bytes, _other: bytes) -> bytes:
    at = random.randrange(len(data) + 1)
    return data[:at] + random.choice(BYTES) * random.choice((1, 1, 1, 3, 80, 300)) + data[at:]


def _cut(random: Random, data: bytes, _other: bytes) -> bytes:
    low, high = sorted(random.randrange(len(data) + 1) for _ in range(2))
    return data[:low] if random.random() < 0.5 else data[:low] + data[high:]


def _number(random: Random, data: bytes, _other: bytes) -> bytes:
    return _exchanged(random, data, _NUMBER, NUMBERS)


def _token(random: Random, data: bytes, other: bytes) -> bytes:
    return _exchanged(random, data, _TOKEN, (*_TOKEN.findall(other), *WORDS))


def _word(random: Random, data: bytes, _other: bytes) -> bytes:
    return _exchanged(random, data, _TOKEN, WORDS)


def _digit(random: Random, data: bytes, _other: bytes) -> bytes:
    return _exchanged(random, data, re.compile(rb"[0-9]"), [b"%d" % d for d in range(10)])


def _letter(random: Random, data: bytes, _other: bytes) -> bytes:
    return _exchanged(random, data, re.compile(rb"[A-Z]"), [bytes([c]) for c in range(65, 91)])


def _exchanged(
    random: Random, data: bytes, pattern: re.Pattern[bytes], new: Sequence[bytes]
) -> bytes:
    """One of the pattern's places put in the place of another spelling."""
    found = list(pattern.finditer(data))
    if not found:
        return data + random.choice(new)
    place = random.choice(found)
    return data[: place.start()] + random.choice(new) + data[place.end() :]


def _line(random: Random, data: bytes, other: bytes) -> bytes:
    """A line doubled, dropped, moved, taken from the other job, made of words, or joined."""
    lines = data.splitlines(keepends=True) or [b""]
    at, to = random.randrange(len(lines)), random.randrange(len(lines))
    match random.randrange(6):
        case 0:
            lines.insert(to, lines[at])
        case 1:
            del lines[at]
        case 2:
            lines.insert(to, lines.pop(at))
        case 3:
            lines.insert(at, random.choice(other.splitlines(keepends=True) or [b"\n"]))
        case 4:
            words = random.choices(WORDS, k=random.randrange(1, 6))
            lines.insert(at, b" ".join(words) + random.choice((b"\n", b"\r\n", b"\r")))
        case _:
            lines[at] = lines[at].rstrip(b"\r\n")
    return b"".join(lines)


def _block(random: Random, data: bytes, other: bytes) -> bytes:
    """A run of lines repeated, reversed, or spliced with the other job."""
    lines, others = data.splitlines(keepends=True), other.splitlines(keepends=True)
    low, high = sorted(random.randrange(len(lines) + 1) for _ in range(2))
    match random.randrange(4):
        case 0:
            lines[high:high] = lines[low:high][:40] * random.randrange(1, 30)
        case 1:
            lines[low:high] = lines[low:high][::-1]
        case 2:
            lines[low:high] = others[: random.randrange(len(others) + 1)]
        case _:
            return b"".join(lines[:low]) + b"".join(others[-(len(others) // 2) :])
    return b"".join(lines[:400])


def _line_ends(random: Random, data: bytes, _other: bytes) -> bytes:
    end = random.choice((b"\r", b"\r\n", b"\n\n", b"\n\r", b"\r\r\n", b""))
    return data.replace(b"\r\n", b"\n").replace(b"\n", end)


def _large(random: Random, data: bytes, _other: bytes) -> bytes:
    """Now and then long enough to be read in bulk."""
    if random.random() < 0.8:
        return data
    lines = data.splitlines(keepends=True)[:200] or [b"G0 X0\n"]
    at = random.randrange(len(lines))
    filler = random.choice((b"G1 X1 Y2\n", b"(comb)\n", b"G2 X1 Y1 R1\nG1 X0 Y0\n", b"\n", b"X1\n"))
    lines.insert(at, filler * (4200 // len(filler)))
    return b"".join(lines)


JobMutator = Callable[[Random, bytes, bytes], bytes]
_JOB_MUTATORS: tuple[JobMutator, ...] = (
    _byte, _bit, _odd_bytes, _cut, _number, _number, _token, _token, _word, _digit, _letter,
    _line, _line, _block, _line_ends, _large,
)  # fmt: skip


# --- YAML -------------------------------------------------------------------------------------


@dataclass(slots=True)
class Raw:
    """A spelling that the writer puts out as it is."""

    text: str


Tree = dict[str, "Tree"] | list["Tree"] | Raw
"""A YAML tree whose leaves are spellings."""

SCALARS = ("", "~", "null", "no", "yes", "on", "True", "1:30", "012", "0o14", "0x1F", "1e3",
           "1_000", ".inf", "-.inf", ".nan", "+1", "-0", "0", "-1", "0.0000001", "1" * 25,
           "9" * 400, "9" * 5000, "1.7976931348623157e309", "2026-01-01", "<<", "=", "*a",
           "&a 1", "&a [*a]", "!!str 5",
           "!!python/name:os.system x", "!x", "'", "''", '"\\0"', '"\\u202e"', '"\\x1b[31m"',
           '"\\ud800"', "|", ">\n  a\n", "[", "]", "{", "}", "[]", "{}", "- a", "? a", "a: b", "a:",
           "%", "@", "`", "#", "\t", "\0", "\ufeff", "\u202ex\u202c", "\u2028", "\x1b[31m",
           "/etc/passwd", "../../x.yaml", ".", "..", "bench-lids.yaml", "shared/base.yaml",
           "swarm_warning.py", "C:\\x", "CON", "x" * 300, "G53", "G28", "none", "word", "button",
           "(", ";", "é", "1e400", "100000000000000000000.5", "[0, 0]", "[5, 1]", "[[[[[[1]]]]]]",
           "{a: {b: {c: 1}}}", "before", "after", "alarms", "mm", "inch")  # fmt: skip
KEYS = ("<<", "x-y", "", "? a", "1", "no", "~", "!t k", "*a", "&b k", "\0", "\u202e", "k" * 300,
        "format", "extends", "machine", "setup", "steps", "plugins", "python", "card-files",
        "assume", "name", "travel", "rapid", "thickness", "most", "least")  # fmt: skip


def tree_of(data: bytes) -> Tree:
    """A sound YAML file as a tree of spellings."""
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    return _tree(yaml.compose(data.decode("utf-8"), Loader=loader))


def _tree(node: yaml.Node | None) -> Tree:
    if isinstance(node, yaml.MappingNode):
        return {str(key.value): _tree(value) for key, value in node.value}
    if isinstance(node, yaml.SequenceNode):
        return [_tree(item) for item in node.value]
    assert isinstance(node, yaml.ScalarNode)
    if node.style in ("'", '"'):
        return Raw("'" + node.value.replace("'", "''") + "'")
    return Raw(str(node.value))


def written(tree: Tree) -> bytes:
    """The tree as YAML: the outer two levels in blocks, what is below in brackets."""
    text = "\n".join(_block_lines(tree, 0, "")) + "\n"
    return text.encode("utf-8", "surrogatepass")


def _block_lines(tree: Tree, depth: int, lead: str) -> Iterator[str]:
    if depth == 2 or isinstance(tree, Raw) or not tree:
        yield lead + _flow(tree)
    elif isinstance(tree, dict):
        for key, value in tree.items():
            if depth == 1 or isinstance(value, Raw) or not value:
                yield f"{lead}{key}: {_flow(value)}"
            else:
                yield f"{lead}{key}:"
                yield from _block_lines(value, depth + 1, lead + "  ")
    else:
        for value in tree:
            yield f"{lead}- {_flow(value)}"


def _flow(tree: Tree) -> str:
    if isinstance(tree, Raw):
        return tree.text
    if isinstance(tree, dict):
        return "{" + ", ".join(f"{key}: {_flow(value)}" for key, value in tree.items()) + "}"
    return "[" + ", ".join(_flow(value) for value in tree) + "]"


def _holders(tree: Tree) -> list[dict[str, Tree] | list[Tree]]:
    """Every mapping and list of a tree that is not empty."""
    found: list[dict[str, Tree] | list[Tree]] = []
    waiting = [tree]
    while waiting:
        here = waiting.pop()
        if isinstance(here, Raw) or not here:
            continue
        found.append(here)
        waiting.extend(here.values() if isinstance(here, dict) else here)
    return found


def mutated_yaml(random: Random, data: bytes, other: bytes) -> bytes:
    """A YAML file after one to four mutations: mostly of its tree, at times of its text."""
    if random.random() < 0.2:
        return _mutated_text(random, data, other)
    tree, stranger = tree_of(data), tree_of(other)
    for _ in range(random.choice((1, 1, 1, 1, 2, 4))):
        _mutate(random, tree, stranger)
    new = written(tree)
    return _mutated_text(random, new, other) if random.random() < 0.05 else new


def _mutate(random: Random, tree: Tree, stranger: Tree) -> None:
    """One change of a node, in place."""
    holders, strangers = _holders(tree), _holders(stranger)
    holder: Any = random.choice(holders)
    key = random.choice(list(holder) if isinstance(holder, dict) else list(range(len(holder))))
    node: Tree = holder[key]
    match random.randrange(9):
        case 0 | 1 | 2:
            new: Tree = Raw(random.choice(SCALARS))
        case 3:
            new = random.choice(_leaves(strangers)) if random.random() < 0.7 else _copy(stranger)
        case 4:
            new = random.choice(_leaves(holders))
        case 5:
            del holder[key]
            return
        case 6:
            _put(random, holder, node)
            return
        case 7:
            new = random.choice(([node], [node, node], {"a": node}, {"<<": node}))
        case _:
            new = _number_near(random, node)
    if new is not tree:
        holder[key] = new


def _leaves(holders: Sequence[dict[str, Tree] | list[Tree]]) -> list[Tree]:
    """All that mappings and lists hold directly, with copies of what has parts."""
    found: list[Tree] = []
    for holder in holders:
        found.extend(_copy(n) for n in (holder.values() if isinstance(holder, dict) else holder))
    return found


def _copy(tree: Tree) -> Tree:
    if isinstance(tree, Raw):
        return tree
    if isinstance(tree, dict):
        return {key: _copy(value) for key, value in tree.items()}
    return [_copy(value) for value in tree]


def _put(random: Random, holder: dict[str, Tree] | list[Tree], node: Tree) -> None:
    """The node for a second time, under another key."""
    if isinstance(holder, list):
        holder.insert(random.randrange(len(holder) + 1), _copy(node))
    elif random.random() < 0.3:
        holder[f"{next(iter(holder))} "] = _copy(node)  # reads as the same key again
    else:
        holder[random.choice(KEYS)] = _copy(node)


def _number_near(random: Random, node: Tree) -> Tree:
    """Another number where one stands, so that the file stays sound and says odd things."""
    if not isinstance(node, Raw):
        return node
    try:
        value = float(node.text)
    except ValueError:
        return Raw(random.choice(SCALARS))
    new = random.choice(
        (-value, 0.0, value * 10, value / 1000, value + 1, value * 1e9, value * 1e300)
    )
    return Raw(f"{new:.9f}".rstrip("0").rstrip("."))


def _mutated_text(random: Random, data: bytes, other: bytes) -> bytes:
    """The text of a YAML file torn: bytes, indentation, documents, anchors, halves of another."""
    lines = data.splitlines(keepends=True) or [b""]
    at = random.randrange(len(lines))
    match random.randrange(10):
        case 0:
            return _byte(random, data, other)
        case 1:
            return _odd_bytes(random, data, other)
        case 2:
            return _cut(random, data, other)
        case 3:
            lines[at] = random.choice((b" ", b"  ", b"\t", b"- ", b"? ", b"")) + lines[at].lstrip()
        case 4:
            lines[at:at] = [
                random.choice((b"---\n", b"...\n", b"--- 1\n", b"%YAML 1.1\n", b"%TAG ! x\n"))
            ]
        case 5:
            lines[at] = lines[at].replace(
                b": ", random.choice((b": &a ", b": *a ", b": !t ", b":")), 1
            )
        case 6:
            lines[at:at] = [
                random.choice((b"[", b"{a: ", b"- ", b"? ")) * random.choice((3, 40, 2000))
            ]
        case 7:
            lines[at:] = other.splitlines(keepends=True)[at:]
        case 8:
            return random.choice(
                (b"", b"\n", b"#\n", b"---\n", b"[]", b"{}", b"a", b"\xef\xbb\xbf")
            )
        case _:
            lines.insert(at, random.choice(lines))
    return b"".join(lines)
