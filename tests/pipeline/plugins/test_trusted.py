"""The list of trusted Python files: it is the user's alone, whole or not at all, and where anything
is wrong with it nothing is trusted.

Outside references: the XDG Base Directory Specification 0.8, the modes of POSIX `stat`, and the
SHA-256 of "abc" in FIPS 180-4 (as NIST's example gives it).
"""

from __future__ import annotations

import errno
import os
import stat
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from headrace import PluginError
from headrace.plugins.python_file import PythonFile
from headrace.plugins.trusted import FORMAT, Entry, TrustedList, state_folder

ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
OTHER = "0" * 64


@pytest.fixture
def known(tmp_path: Path) -> TrustedList:
    return TrustedList(tmp_path / "state" / "headrace" / "trusted")


def refusal(known: TrustedList) -> str:
    with pytest.raises(PluginError) as refused:
        known.holds(ABC)
    (finding,) = refused.value.findings
    assert finding.name == "trust-list-unfit"
    assert str(known.path) in finding.what
    assert finding.remedy
    return finding.what


def test_what_is_trusted_stays_trusted(known: TrustedList) -> None:
    assert not known.holds(ABC), "without a list"
    known.add([Entry(ABC, "/hives/steps.py")])
    known.add([Entry(OTHER, '/hives/wax\n"1".py'), Entry(ABC, "/elsewhere.py")])

    assert known.entries() == (Entry(ABC, "/hives/steps.py"), Entry(OTHER, '/hives/wax\n"1".py'))
    assert known.holds(PythonFile(Path("steps.py"), b"abc").sha256)
    assert known.path.read_text().splitlines()[:2] == [FORMAT, f'{ABC} "/hives/steps.py"']
    known.forget([ABC])
    assert not known.holds(ABC)
    assert known.holds(OTHER)


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such modes")
def test_nobody_else_can_read_or_write_it(known: TrustedList) -> None:
    before = os.umask(0)
    try:
        known.add([Entry(ABC, "steps.py")])
    finally:
        os.umask(before)

    assert stat.S_IMODE(known.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(known.path.parent.stat().st_mode) == 0o700


BROKEN = {
    "empty": b"",
    "another list": b"headrace-trusted/2\n",
    "cut short": f'{FORMAT}\n{ABC} "ste'.encode(),
    "cut behind the head": FORMAT.encode(),
    "a digest cut short": f'{FORMAT}\n{ABC[:-1]} "steps.py"\n'.encode(),
    "capitals": f'{FORMAT}\n{ABC.upper()} "steps.py"\n'.encode(),
    "no text": f"{FORMAT}\n{ABC} steps.py\n".encode(),
    "an empty line": f'{FORMAT}\n\n{ABC} "steps.py"\n'.encode(),
    "zeros": b"\0" * 512,
    "other bytes": f'{FORMAT}\n{ABC} "l\xe4rche.py"\n'.encode("latin-1"),
    "Windows line ends": f'{FORMAT}\r\n{ABC} "steps.py"\r\n'.encode(),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_list_trusts_nothing_and_stays(known: TrustedList, name: str) -> None:
    known.path.parent.mkdir(parents=True)
    known.path.write_bytes(BROKEN[name])
    known.path.chmod(0o600)

    assert "does not count" in refusal(known)
    with pytest.raises(PluginError):
        known.add([Entry(OTHER, "steps.py")])
    assert known.path.read_bytes() == BROKEN[name]


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such modes")
@pytest.mark.parametrize("mode", [0o620, 0o602, 0o666])
def test_a_list_that_others_may_write_to(known: TrustedList, mode: int) -> None:
    known.add([Entry(ABC, "steps.py")])
    known.path.chmod(mode)

    assert "other users may write to it" in refusal(known)


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such owners")
def test_a_list_of_somebody_else(known: TrustedList, monkeypatch: pytest.MonkeyPatch) -> None:
    known.add([Entry(ABC, "steps.py")])
    owner = known.path.stat().st_uid
    monkeypatch.setattr(os, "geteuid", lambda: owner + 1)

    assert "it belongs to another user" in refusal(known)


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such pipes")
def test_what_is_no_file_in_its_place(known: TrustedList) -> None:
    """Opening a pipe without O_NONBLOCK would wait for a writer (POSIX `open`)."""
    known.path.mkdir(parents=True)
    assert "does not count" in refusal(known)
    known.path.rmdir()
    os.mkfifo(known.path)
    assert "it is no file" in refusal(known)
    known.path.unlink()
    known.path.parent.rmdir()
    known.path.parent.write_text("")
    assert os.strerror(errno.ENOTDIR) in refusal(known)


def test_whole_or_not_at_all(known: TrustedList, monkeypatch: pytest.MonkeyPatch) -> None:
    known.add([Entry(ABC, "steps.py")])
    before = known.path.read_bytes()

    def full(_descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(PluginError, match=os.strerror(errno.ENOSPC)):
        known.add([Entry(OTHER, "wax.py")])
    assert known.path.read_bytes() == before
    assert {path.name for path in known.path.parent.iterdir()} == {"trusted", "trusted.lock"}


def test_many_at_once(known: TrustedList) -> None:
    """A lock belongs to an open file, so that threads stand for processes here (flock(2))."""
    digests = [f"{number:064x}" for number in range(60)]

    def trust(digest: str) -> None:
        TrustedList(known.path).add([Entry(digest, "steps.py")])

    with ThreadPoolExecutor(6) as pool:
        list(pool.map(trust, digests))
    assert sorted(entry.sha256 for entry in known.entries()) == digests


@pytest.mark.parametrize(
    ("system", "given", "folder"),
    [
        ("linux", {"XDG_STATE_HOME": "/state"}, "/state/headrace"),
        ("linux", {}, "~/.local/state/headrace"),
        ("linux", {"XDG_STATE_HOME": ""}, "~/.local/state/headrace"),
        ("linux", {"XDG_STATE_HOME": "not/whole"}, "~/.local/state/headrace"),
        ("linux", {"HEADRACE_STATE": "/own", "XDG_STATE_HOME": "/state"}, "/own"),
        ("darwin", {"XDG_STATE_HOME": "/state"}, "~/Library/Application Support/headrace"),
        ("win32", {"LOCALAPPDATA": "/local"}, "/local/headrace"),
    ],
)
def test_where_it_lies(system: str, given: dict[str, str], folder: str) -> None:
    """XDG Base Directory Specification: `$HOME/.local/state` where the variable is not set or
    empty; a path that is not absolute is to be ignored. The others are common practice."""
    assert state_folder(given, system) == Path(folder).expanduser()


def test_a_folder_that_hangs_on_where_one_stands_is_refused() -> None:
    with pytest.raises(PluginError, match="must be a path from the root"):
        state_folder({"HEADRACE_STATE": "state"})
