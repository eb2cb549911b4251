"""What `headrace prepare` asks of a card, taken down by strace while it does."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_CALLS = (
    "openat,open,creat,write,pwrite64,writev,ftruncate,truncate,fsync,fdatasync,rename,renameat,"
    "renameat2,unlink,unlinkat,link,linkat,symlink,mkdir,rmdir,sendfile,copy_file_range"
)
_LINE = re.compile(r"\d+ +(\w+)\((.*)\) += (\S+)")
_ESCAPE = re.compile(rb"\\x([0-9a-f]{2})")
_TEXT = re.compile(r'"((?:[^"\\]|\\.)*)"')
_DESCRIPTOR = re.compile(r"^\d+<([^>]*)>")


@dataclass(frozen=True)
class Asked:
    """Something done on a card: `write` (a whole file), `sync` (a file, or the folder: name ""),
    `name` (a free name), `over` (the name of another file), `exchange`, `remove`."""

    what: str
    name: str
    other: str = ""
    data: bytes = b""


def taken_down(
    args: list[str], cwd: Path, card: Path, log: Path, exchange: bool = True
) -> list[Asked]:
    """Run headrace under strace, and what it asked of a card. Without `exchange` the system says
    that names cannot change places, nor be given only where they are free."""
    strace = ["strace", "-f", "-y", "-xx", "-s", "1000000", "-o", str(log), "-e", f"trace={_CALLS}"]
    if not exchange:
        strace += ["-e", "inject=renameat2:error=EINVAL"]
    names = {path.name for path in card.iterdir()}
    command = [*strace, sys.executable, "-m", "headrace", *args]
    ran = subprocess.run(command, cwd=cwd, capture_output=True, check=False, timeout=120)
    assert ran.returncode == 0, ran.stderr.decode()
    return list(_asked(log.read_bytes(), card, names))


def _asked(log: bytes, card: Path, names: set[str]) -> Iterator[Asked]:
    """The calls of a log that touch a card with these names, in their order. A file counts as
    written when it is synced; whatever is not known here ends the trial."""
    written: dict[str, bytearray] = {}
    for line in log.decode("ascii").splitlines():
        match = _LINE.match(line)
        if match is None:
            told = _plain(line).decode("utf-8", "replace")
            assert str(card) not in told, f"two things at a time: {told[:200]}"
            continue
        if match[3].startswith("-1"):
            continue
        call, rest = match[1], match[2]
        texts = [_plain(text) for text in _TEXT.findall(rest)]
        opened = _DESCRIPTOR.match(rest)
        held = None if opened is None else _plain(opened[1]).decode()
        on_card = [_below(text.decode("utf-8", "replace"), card) for text in texts]
        at = None if held is None else _below(held, card)
        if call in ("openat", "open", "creat"):
            name = on_card[0]
            if name and ("O_CREAT" in rest or "O_WRONLY" in rest or "O_RDWR" in rest):
                assert "O_EXCL" in rest, f"opened for writing, and there already: {name}"
                written[name] = bytearray()
        elif call == "write" and at:
            assert len(texts[0]) >= int(match[3]), "strace has shortened what was written"
            written[at] += texts[0][: int(match[3])]
        elif call in ("fsync", "fdatasync") and at is not None:
            if at in written:
                yield Asked("write", at, data=bytes(written.pop(at)))
            yield Asked("sync", at)
        elif call in ("rename", "renameat", "renameat2") and None not in on_card:
            old, new = on_card[0] or "", on_card[1] or ""
            over = "over" if new in names and "NOREPLACE" not in rest else "name"
            names.add(new)
            yield Asked("exchange" if "EXCHANGE" in rest else over, old, new)
            names.add(old) if "EXCHANGE" in rest else names.discard(old)
        elif call in ("unlink", "unlinkat") and on_card[0]:
            written.pop(on_card[0], None)
            names.discard(on_card[0])
            yield Asked("remove", on_card[0])
        else:
            assert not any((at, *on_card)), f"not understood: {call}({rest[:200]})"
    assert not written, f"never synced: {', '.join(written)}"


def _plain(text: str) -> bytes:
    return _ESCAPE.sub(lambda found: bytes([int(found[1], 16)]), text.encode("ascii"))


def _below(path: str, card: Path) -> str | None:
    """The name of a file on the card, "" for the card itself; None for all else."""
    if path == str(card):
        return ""
    return path.removeprefix(f"{card}/") if path.startswith(f"{card}/") else None
