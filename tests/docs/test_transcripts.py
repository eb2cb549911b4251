"""Every command in the documentation is carried out, and what a page shows is what is printed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from docs.pages import TREE, WRITTEN, blocks_of, shown
from docs.workshop import Workshop, agree

CI = (TREE / ".ci" / "run").read_text("utf-8")
ELSEWHERE = {
    r"python3 -m venv \.venv && .*": "by .ci/run, from the README's own marked blocks",
    r"\.venv/bin/python -m .*": "by .ci/run",
    r"(python|\.venv/bin/python) tests/(benchmarks|trials|hostility|pipeline/proof)\b.*": (
        "by .ci/run and by the suite, in small"
    ),
    r"bash \.ci/run": "is what runs this",
    r"npm ci .*": "by .ci/run",
}
"""Command lines that are run otherwise, by patterns."""

ENDS = re.compile(r"exit code (\d+)$")
"""How headrace's last line ends."""


def ends_as_said(printed: tuple[str, ...], code: int) -> bool:
    """By the exit code that a transcript tells; where it tells none a refusal ends with another one
    than 0, and all else with 0."""
    told = ENDS.search("\n".join(printed))
    if told is not None:
        return int(told[1]) == code
    return (code != 0) == any(line.startswith("refuse:") for line in printed)


def elsewhere(command: str) -> bool:
    return any(re.fullmatch(pattern, command) for pattern in ELSEWHERE)


@pytest.mark.parametrize("page", WRITTEN)
def test_commands_do_what_the_page_says(page: str, tmp_path: Path) -> None:
    """One after the other, in the order of the page."""
    shop = Workshop.of(tmp_path)
    faults = []
    for block in blocks_of(page):
        if block.file is not None:
            shop.put(block)
            continue
        for each in shown(block):
            if elsewhere(each.command):
                continue
            code, printed = shop.run(each.command)
            if each.printed is None:
                if code != 0 or not printed:
                    faults.append(f"{each.where}: {each.command}: {code}\n" + "\n".join(printed))
                continue
            if differs := agree(each.printed, printed):
                faults.append(f"{each.where}: {each.command}\n{differs}")
            if not ends_as_said(each.printed, code):
                faults.append(f"{each.where}: {each.command} ended with {code}")
    assert not faults, "\n\n".join(faults)


def test_what_is_run_elsewhere_is() -> None:
    """The patterns meet something, and .ci/run carries the marked blocks out."""
    commands = [each.command for page in WRITTEN for b in blocks_of(page) for each in shown(b)]

    for pattern in ELSEWHERE:
        assert any(re.fullmatch(pattern, command) for command in commands), pattern
    assert "npm ci" in CI
    assert "readme_command tests" in CI


@pytest.mark.parametrize(
    ("said", "printed", "same"),
    [
        (("a", "b"), ["a", "b"], True),
        (("a", "b"), ["a"], False),
        (("a",), ["a", "b"], False),
        (("a", "...", "d"), ["a", "b", "c", "d"], True),
        (("a", "...", "d"), ["a", "d"], True),
        (("a", "..."), ["b", "c"], False),
        (("a, ...",), ["a, and the rest"], True),
        (("a.b",), ["axb"], False),
        ((), ["a"], False),
    ],
)
def test_differences_are_seen(said: tuple[str, ...], printed: list[str], same: bool) -> None:
    assert (agree(said, printed) == "") is same
