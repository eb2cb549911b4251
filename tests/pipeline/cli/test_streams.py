"""What goes where, for every command: through pipes and on terminals of several kinds.

Sources: ISO/IEC 6429 (control sequences begin with ESC, 1Bh); https://no-color.org (a value that is
not empty asks for no colour); TERM=dumb (terminfo: a terminal that knows no sequences).
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest
from workshop import Workshop, set_up

ESCAPE = b"\x1b"
COMMANDS = {
    "help": ["--help"],
    "prepare": ["prepare", "recipes/plain.yaml", "jobs", "--card", "card"],
    "check": ["check", "recipes/plain.yaml", "jobs"],
    "check of a recipe": ["check", "recipes/broken.yaml"],
    "plan": ["plan", "recipes/plain.yaml", "jobs"],
    "plan --why": ["plan", "--why", "recipes/plain.yaml", "jobs"],
    "transforms": ["transforms"],
    "transforms of a name": ["transforms", "touch-off"],
    "explain": ["explain"],
    "explain of a name": ["explain", "word-without-value"],
    "schema": ["schema", "setup"],
    "completion": ["completion", "zsh"],
    "describe": ["describe", "recipes/machine.yaml", "--list"],
    "verify": ["verify", "card"],
    "keep": ["keep", "recipes/plain.yaml", "jobs", "--in", "kept"],
    "recheck": ["recheck", "recipes/machine.yaml"],
    "sheet": ["sheet", "recipes/plain.yaml", "jobs", "--card", "card", "--to", "sheet.html"],
    "show": ["show", "jobs/a lid of the hive with a long name.nc"],
    "show by a recipe": [
        "show",
        "jobs/a lid of the hive with a long name.nc",
        "--recipe",
        "recipes/plain.yaml",
    ],
    "picture": ["picture", "jobs/a lid of the hive with a long name.nc", "--to", "lid.svg"],
    "misuse": ["prepare", "nowhere.yaml"],
}
WRITING = ("prepare", "keep", "sheet", "picture")
TERMINALS: dict[str, Mapping[str, str]] = {
    "colours": {"TERM": "xterm-256color"},
    "no colour wanted": {"TERM": "xterm-256color", "NO_COLOR": "1"},
    "dumb": {"TERM": "dumb"},
}
EACH = """
import json, sys
from headrace.cli import main
for args in json.loads(sys.argv[1]):
    print("<<<", flush=True)
    sys.argv = ["headrace", *args]
    try:
        main()
    except SystemExit as ended:
        print(">>>", ended.code, flush=True)
"""
"""All command lines one after the other, on the streams of one process."""


@pytest.fixture(scope="module")
def hive(tmp_path_factory: pytest.TempPathFactory) -> Workshop:
    made = set_up(tmp_path_factory.mktemp("streams") / "hive")
    made.job("a lid of the hive with a long name.nc")
    made.job("bad.nc", f"G21\nG1 X1 F100 Q\n({'a long line of the bees ' * 9}) G1 Q\nM30\n")
    broken = made.recipe.read_text().replace("capitals", "capitol")
    (made.recipe.parent / "broken.yaml").write_text(broken)
    return made


def around(environment: Mapping[str, str]) -> dict[str, str]:
    kept = {key: value for key, value in os.environ.items() if key not in ("NO_COLOR", "COLUMNS")}
    return {**kept, "TERM": "xterm-256color", **environment}


def on_a_terminal(hive: Workshop, width: int, environment: Mapping[str, str]) -> list[bytes]:
    """What each command shows on a terminal, where both streams go."""
    pty = pytest.importorskip("pty")
    import fcntl
    import struct
    import termios

    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, width, 0, 0))
    script = [sys.executable, "-c", EACH, json.dumps(list(COMMANDS.values()))]
    said = b""
    with subprocess.Popen(
        script, cwd=hive.root, env=around(environment), stdin=theirs, stdout=theirs, stderr=theirs
    ):
        os.close(theirs)
        while True:
            try:
                part = os.read(ours, 1 << 16)
            except OSError:
                break
            if not part:
                break
            said += part
    os.close(ours)
    parts = said.replace(b"\r\n", b"\n").split(b"<<<\n")[1:]
    assert len(parts) == len(COMMANDS)
    return [part.rpartition(b">>>")[0] for part in parts]


def without_colour(text: bytes) -> str:
    return re.sub(rb"\x1b\[[0-9;]*m", b"", text).decode()


@pytest.mark.parametrize(
    ("width", "environment"),
    [(40, "colours"), (40, "dumb"), (80, "no colour wanted"), (200, "colours"), (200, "dumb")],
)
def test_terminals(hive: Workshop, width: int, environment: str) -> None:
    """Colours where they are wanted only; and lines that fit, cut between words."""
    shown = dict(zip(COMMANDS, on_a_terminal(hive, width, TERMINALS[environment]), strict=True))

    assert any(ESCAPE in text for text in shown.values()) == (environment == "colours")
    assert (ESCAPE in shown["check"]) == (environment == "colours")
    assert "Q has no number" in " ".join(without_colour(shown["check"]).split())
    for name in (
        "check",
        "prepare",
        "check of a recipe",
        "transforms",
        "verify",
        "recheck",
        "sheet",
        "show",
        "show by a recipe",
        "picture",
    ):
        for line in without_colour(shown[name]).splitlines():
            words = [word for word in line.split() if len(word) > width // 2]
            assert len(line) <= width or words, (name, line)


def test_carets_stand_below_what_is_meant_however_narrow(hive: Workshop) -> None:
    shown = dict(zip(COMMANDS, on_a_terminal(hive, 40, {"TERM": "dumb"}), strict=True))
    lines = without_colour(shown["check"]).splitlines()
    carets = [number for number, line in enumerate(lines) if set(line.strip()) == {"|", " ", "^"}]

    assert len(carets) == 2
    for number in carets:
        column = lines[number].index("^")
        assert lines[number - 1][column] == "Q", lines[number - 1 : number + 1]


@pytest.mark.parametrize("name", COMMANDS)
def test_pipes_get_no_escapes_and_whole_lines(hive: Workshop, name: str) -> None:
    """Also where the environment asks for a narrow terminal with colours."""
    wide = hive.run(*COMMANDS[name], environment={"TERM": "xterm-256color"})
    narrow = hive.run(*COMMANDS[name], environment={"COLUMNS": "40", "NO_COLOR": "1"})

    assert ESCAPE not in wide.stdout + wide.stderr
    if name not in ("help", "misuse", *WRITING):  # click folds these two
        assert (wide.stdout, wide.stderr) == (narrow.stdout, narrow.stderr)
    if wide.returncode == 2:
        assert wide.stdout == b""
    if name in ("transforms", "transforms of a name", "explain", "schema", "completion"):
        assert wide.stderr == b""


def test_only_what_was_asked_for_goes_to_standard_output(hive: Workshop) -> None:
    talk = ("refuse:", "warn:", "note:", "why:", "do:", "exit code")
    for name in (
        "prepare",
        "check",
        "check of a recipe",
        "plan",
        "plan --why",
        "verify",
        "recheck",
        "sheet",
        "show",
        "show by a recipe",
        "picture",
    ):
        for line in hive.run(*COMMANDS[name]).stdout.decode().splitlines():
            assert not line.strip().startswith(talk[:5]), (name, line)
            assert talk[5] not in line, (name, line)


@pytest.mark.skipif(sys.platform == "win32", reason="needs a shell that closes streams")
@pytest.mark.parametrize("closed", [">&-", "2>&-", "<&- >&- 2>&-"])
def test_a_closed_stream_leads_nowhere_and_not_into_a_file(tmp_path: Path, closed: str) -> None:
    """POSIX, open(): the lowest number that is free is taken, which may be that of a stream
    (redirection `>&-` of the shell)."""
    hive = set_up(tmp_path / "hive")
    hive.job("lid.nc")
    command = f'"$1" -m headrace prepare recipes/plain.yaml jobs --card card {closed}'
    shell = ["sh", "-c", command, "sh", sys.executable]
    assert subprocess.run(shell, cwd=hive.root, check=False).returncode == 0
    verify = [sys.executable, "-m", "headrace", "verify", "card"]
    told = subprocess.run(verify, cwd=hive.root, check=False, capture_output=True)
    assert told.stdout.splitlines()[-1] == b"ready", told
