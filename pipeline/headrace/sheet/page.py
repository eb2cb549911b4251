"""The run sheet as one HTML file, for paper and for a screen, with nothing outside of it.

Style and script stand in the page and are named by their hashes in its policy (Content Security
Policy Level 3, 2.3.1), so nothing else in it can load or run. Every text is data: it is escaped,
and characters that do not show, or that turn the direction of writing, are told by their numbers.
"""

from __future__ import annotations

import hashlib
import re
from base64 import b64encode
from functools import cache
from html import unescape
from typing import TYPE_CHECKING

from headrace.counting import count_text
from headrace.findings import Finding, Place, Severity
from headrace.picture.style import style
from headrace.sheet import cautions, telling
from headrace.sheet.timeline import timeline
from headrace.sheet.view.script import view_script, view_style

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from jinja2 import Environment
    from markupsafe import Markup

    from headrace.picture.drawing import Drawing
    from headrace.sheet.facts import FileFacts, SheetFacts, ToolUse

_EXCERPT = 72
"""Characters of a line that are shown of a place."""

_GRAVEST = (Severity.REFUSE, Severity.WARN, Severity.NOTE)


def page(facts: SheetFacts) -> bytes:
    """The whole page (UTF-8). The same facts give the same bytes."""
    looks = _text("page.css") + style() + view_style()
    script = view_script()
    text = (
        _environment()
        .get_template("page.html")
        .render(
            sheet=facts,
            looks=looks,
            script=script,
            policy=_policy(looks, script),
            cautions=cautions,
        )
    )
    return text.encode("utf-8")


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("headrace.sheet"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_shown,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {
        "band": _kept(telling.band_text),
        "count": _kept(count_text),
        "grave": _grave,
        "grouped": _grouped,
        "halves": _halves,
        "lacks": _lacks,
        "left": telling.left_text,
        "light": _light,
        "parts": _parts,
        "size": _kept(telling.size_text),
        "span": _kept(telling.span_text),
        "timeline": timeline,
        "time": _kept(telling.time_text),
        "total": _total,
    }
    return made


def _kept(tell: Callable[..., str]) -> Callable[..., Markup]:
    """The same, but a number and its unit stay in one line."""
    from markupsafe import Markup

    return lambda *given, **named: Markup('<span class="rs-n">{}</span>').format(
        tell(*given, **named)
    )


def _text(name: str) -> str:
    from importlib.resources import files

    return files("headrace.sheet").joinpath("templates", name).read_text("utf-8")


def _policy(looks: str, script: str) -> str:
    """What the page may do: wear this style, run this script, and nothing else."""
    return (
        f"default-src 'none'; style-src {_source(looks)}; script-src {_source(script)};"
        " base-uri 'none'; form-action 'none'"
    )


def _source(text: str) -> str:
    return f"'sha256-{b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}'"


def _shown(value: object) -> object:
    """What a template may write: markup as it is, text with all its characters to be seen.

    TypeError for anything else, and so for what is not known: a template says that in words.
    """
    if hasattr(value, "__html__"):
        return value
    if isinstance(value, str):
        if value.isprintable():
            return value
        return "".join(c if c.isprintable() else f"‹U+{ord(c):04X}›" for c in value)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return value
    raise TypeError(f"{value!r} is nothing to write on a page")


def _grave(findings: Sequence[Finding]) -> list[Finding]:
    """Refusals, then warnings."""
    return sorted(
        (finding for finding in findings if finding.severity is not Severity.NOTE),
        key=lambda finding: _GRAVEST.index(finding.severity),
    )


def _light(findings: Sequence[Finding]) -> list[Finding]:
    return [finding for finding in findings if finding.severity is Severity.NOTE]


def _parts(place: Place) -> tuple[str, str, str]:
    """The line that is meant, about as wide as paper: before, in and after what is meant of it."""
    first = max(0, place.column - 1)
    start = max(0, first - _EXCERPT // 2) if len(place.excerpt) > _EXCERPT else 0
    end = start + _EXCERPT
    last = min(first + max(1, place.length), end)
    lead = "…" if start else ""
    tail = "…" if end < len(place.excerpt) else ""
    line = place.excerpt
    return lead + line[start:first], line[first:last], line[last:end] + tail


def _halves(drawing: Drawing) -> tuple[str, str]:
    """What is told of a drawing, and the sentences at its end that stand in the drawing as well."""
    drawn = unescape(" ".join(re.findall(r"<text[^>]*>([^<]*)", drawing.svg)))
    said = re.split(r"(?<=[.]) ", drawing.text)
    alone = len(said)
    while alone and said[alone - 1] in drawn:
        alone -= 1
    return " ".join(said[:alone]), " ".join(said[alone:])


def _lacks(tool: ToolUse) -> list[str]:
    """What of a bit is not described, in the words of its table."""
    described = {
        "diameter": tool.diameter,
        "stick-out": tool.stick_out,
        "dial": tool.dial,
        "feed down at most": tool.plunge,
        "chip allowed": tool.chip_limits,
        "teeth": tool.teeth,
        "fastest speed allowed": tool.fastest,
        "flute length": tool.flute,
    }
    return [name for name, value in described.items() if value is None]


def _grouped(digest: str) -> list[str]:
    """A hash in groups of eight, to compare by eye."""
    return [digest[at : at + 8] for at in range(0, len(digest), 8)]


def _total(files: Sequence[FileFacts]) -> str:
    """How long the machine takes for all the files."""
    lows = [file.times.low for file in files if file.times.low is not None]
    highs = [file.times.high for file in files if file.times.high is not None]
    if len(lows) == len(highs) == len(files):
        return _kept(telling.band_text)(sum(lows), sum(highs))
    least = _kept(telling.time_text)(sum(file.times.naive for file in files))
    return "no less than " + least
