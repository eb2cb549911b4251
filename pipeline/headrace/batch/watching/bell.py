"""News from the system that something happened in a folder, by the library watchfiles."""

from __future__ import annotations

from pathlib import Path, PurePath
from queue import Empty, SimpleQueue
from threading import Event, Thread
from typing import TypeAlias

from headrace.card.seen import sign_of

_STEP = 10
"""How often the library asks for news (ms)."""

MOMENT = 0.05
"""How long the bell is listened to at a time (s)."""

_News: TypeAlias = "SimpleQueue[frozenset[str] | Exception]"


class Bell:
    """Rings when something happens in one of some folders, not below them.

    Where the system gives no news, `deaf` says why in words. News are asked for by a thread, so
    that signals reach this one at once; it ends when the bell is closed.
    """

    def __init__(self) -> None:
        self.deaf: str = ""
        self._armed: object = None
        self._news: _News = SimpleQueue()
        self._done = Event()
        self._thread: Thread | None = None
        self._stopped = False

    def listen(self, folders: frozenset[Path]) -> bool:
        """Listen there from now on; whether that is anything new. A folder that was made anew is
        another one."""
        armed = {(folder, (sign_of(folder) or ())[:2]) for folder in folders}
        if armed == self._armed:
            return False
        self.close()
        self._armed, self.deaf = armed, ""
        self._news, self._done = SimpleQueue(), Event()
        paths = sorted(map(str, folders))
        self._thread = Thread(target=_hear, args=(paths, self._news, self._done), daemon=True)
        self._thread.start()
        return True

    def wait(self) -> frozenset[str] | None:
        """The names of files of which there are news, once there are some or a moment has passed;
        None where the bell was stopped."""
        if self._stopped:
            return None
        try:
            news = self._news.get(timeout=MOMENT)
        except Empty:
            return frozenset()
        if not isinstance(news, Exception):
            return news
        if isinstance(news, FileNotFoundError):  # a folder went in the meantime
            self._armed = None
        else:
            self.deaf = f"the system gives no news of changes: {news}"
        return frozenset()

    def stop(self) -> None:
        """Let whoever waits be done."""
        self._stopped = True

    def close(self) -> None:
        """Listen no longer."""
        self._done.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None


def _hear(folders: list[str], news: _News, done: Event) -> None:
    """Put the names of files there are news of, until it is done; in the end an error, if any."""
    from watchfiles import watch

    try:
        for changes in watch(
            *folders,
            watch_filter=None,
            debounce=round(MOMENT * 1000),
            step=_STEP,
            stop_event=done,
            recursive=False,
            ignore_permission_denied=True,
        ):
            news.put(frozenset(PurePath(path).name for _, path in changes))
    except Exception as error:
        news.put(error)
