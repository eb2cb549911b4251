"""A run that hands some files over to a card, as small as it can be; also a script that does it
again and again and is killed at each call to the operating system in turn."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from headrace.card import exchange
from headrace.card.delivery import Delivery, Fate, deliver
from headrace.card.entry import Entry, Taken
from headrace.card.folder import card_folder
from headrace.card.origin import Code, Meaning, Origin
from headrace.card.writing import Content, stage, staged_path

CALLS = {
    **dict.fromkeys(
        ("open", "write", "read", "fsync", "close", "rename", "unlink", "scandir", "statvfs"), os
    ),
    "renamed": exchange,
}
"""What card writing asks of the operating system, and where that is called from."""

OLD = {"LID.NC": b"G1 X1\n" * 300, "FRAME.NC": b"G1 Y1\n" * 300}
NEW = {"LID.NC": b"G1 X2\n" * 400, "FRAME.NC": b"G1 Y1\n" * 300, "FLOOR.NC": b"G1 Z2\n" * 500}
"""One file replaced, one as it was, one new."""

_NOTHING = "0" * 64
ORIGIN = Origin(
    "hive.yaml",
    Meaning("Hive", _NOTHING),
    Meaning("Bench", _NOTHING),
    Meaning("Sheet", _NOTHING),
    Code("headrace", "1", _NOTHING),
)


def entry_of(name: str, data: bytes, source: str | None = None) -> Entry:
    job = name.lower() if source is None else source
    steps = (Taken("park", 0, 1, 0),)
    return Entry(name, Content.of(data), job, Content.of(b"source"), ORIGIN, steps, "Hive")


def hand_over(card: Path, files: Mapping[str, bytes]) -> tuple[Fate, ...]:
    """Stage all files, then give them their names."""
    with card_folder(card, []) as folder:
        deliveries = []
        for number, (name, data) in enumerate(files.items(), 1):
            staged = staged_path(folder.path, number)
            stage(staged, [data], Content.of(data))
            deliveries.append(Delivery(entry_of(name, data), staged))
        return deliver(folder, deliveries)


def counted(call: str, act: Callable[[int], None]) -> tuple[Any, str, Any]:
    """A call of `CALLS`, as module and name, and what is to stand there so that `act` is done
    before each call, told the number of the call.

    A `close` that fails has closed all the same (Linux man-pages, close(2), "Dealing with error
    returns from close()"), so there `act` comes second.
    """
    owner = CALLS[call]
    original = getattr(owner, call)
    calls = 0

    def instead(*args: Any, **kwargs: Any) -> Any:
        nonlocal calls
        calls += 1
        if call == "close":
            original(*args, **kwargs)
            return act(calls)
        act(calls)
        return original(*args, **kwargs)

    return owner, call, instead


def no_flags(_one: Path, _other: Path, _flag: int) -> bool:
    """Stands for `exchange.renamed` on a file system where names cannot change places."""
    return False


def killed_at(point: int) -> Callable[[int], None]:
    def act(number: int) -> None:
        if number == point:
            os.kill(os.getpid(), signal.SIGKILL)

    return act


def main(root: Path) -> None:
    """Below `root`, a card as each kill left it: `<call>-<number>`."""
    for call in CALLS:
        point = 1
        while True:
            card = root / f"{call}-{point}"
            card.mkdir()
            hand_over(card, OLD)
            (card / "NOTES.TXT").write_bytes(b"of another program\n")
            child = os.fork()
            if child == 0:
                setattr(*counted(call, killed_at(point)))
                hand_over(card, NEW)
                os._exit(0)
            _, status = os.waitpid(child, 0)
            if not os.WIFSIGNALED(status):
                break
            point += 1


if __name__ == "__main__":
    if sys.argv[2:] == ["plain"]:
        exchange.renamed = no_flags
    main(Path(sys.argv[1]))
