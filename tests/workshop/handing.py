"""A run that hands some files over to a card, as small as it can be; also a script that does it
again and again and is killed at each call to the operating system in turn."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from headrace.card.delivery import Delivery, Fate, deliver
from headrace.card.folder import card_folder
from headrace.card.manifest import Entry
from headrace.card.writing import Content, stage, staged_path

CALLS = ("open", "write", "read", "fsync", "close", "replace", "unlink", "scandir")
"""What card writing asks of the operating system."""

OLD = {"LID.NC": b"G1 X1\n" * 300, "FRAME.NC": b"G1 Y1\n" * 300}
NEW = {"LID.NC": b"G1 X2\n" * 400, "FRAME.NC": b"G1 Y1\n" * 300, "FLOOR.NC": b"G1 Z2\n" * 500}
"""One file replaced, one as it was, one new."""


def entry_of(name: str, data: bytes, source: str | None = None) -> Entry:
    job = name.lower() if source is None else source
    return Entry(name, Content.of(data), job, Content.of(b"source"), "hive.yaml", ("park",), "Hive")


def hand_over(card: Path, files: Mapping[str, bytes]) -> tuple[Fate, ...]:
    """Stage all files, then give them their names."""
    with card_folder(card, []) as folder:
        deliveries = []
        for number, (name, data) in enumerate(files.items(), 1):
            staged = staged_path(folder.path, number)
            stage(staged, [data], Content.of(data))
            deliveries.append(Delivery(entry_of(name, data), staged))
        return deliver(folder, deliveries)


def counted(call: str, act: Callable[[int], None]) -> tuple[str, Any]:
    """`os.<call>` with `act` done before each call, told the number of the call.

    A `close` that fails has closed all the same (Linux man-pages, close(2), "Dealing with error
    returns from close()"), so there `act` comes second.
    """
    original = getattr(os, call)
    calls = 0

    def instead(*args: Any, **kwargs: Any) -> Any:
        nonlocal calls
        calls += 1
        if call == "close":
            original(*args, **kwargs)
            return act(calls)
        act(calls)
        return original(*args, **kwargs)

    return call, instead


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
                name, instead = counted(call, killed_at(point))
                setattr(os, name, instead)
                hand_over(card, NEW)
                os._exit(0)
            _, status = os.waitpid(child, 0)
            if not os.WIFSIGNALED(status):
                break
            point += 1


if __name__ == "__main__":
    main(Path(sys.argv[1]))
