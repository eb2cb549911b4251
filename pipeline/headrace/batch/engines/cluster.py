"""The workers of a Dask cluster, through the executor that its client gives."""

from __future__ import annotations

import logging
import socket
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib import import_module
from typing import Any
from urllib.parse import urlsplit

from headrace.batch.engines.borrowed import Borrowed
from headrace.errors import EngineError
from headrace.findings import Finding

_PATIENCE = 10.0
"""Seconds for a scheduler to answer, and for the first worker to be there."""
_TALKATIVE = ("distributed", "tornado", "asyncio")
_AHEAD = 3
"""Tasks under way for each thread of a worker."""


@contextmanager
def engine_on(address: str) -> Iterator[Borrowed]:
    """An engine on the cluster with its scheduler at `address`, such as `tcp://bench:8786`.

    Raises EngineError where there is no such cluster, or it has no workers.
    """
    _knock(address)
    try:
        distributed = import_module("distributed")
    except ImportError as error:
        what = f"{address} cannot be asked: the package distributed is not installed here"
        raise EngineError(findings=[Finding.of("cluster-not-installed", what)]) from error
    _hushed()
    try:
        client = distributed.Client(address, timeout=_PATIENCE, set_as_default=False)
    except (OSError, ValueError) as error:
        raise _unreachable(address, error) from error
    try:
        ahead = _AHEAD * _threads(client, address)

        def look() -> None:
            _threads(client, address)

        # not pure: what an earlier run made of the same task is not taken for this one's
        yield Borrowed(client.get_executor(pure=False), ahead, look)
    finally:
        with suppress(OSError):  # of a cluster that is gone there is nothing to take leave of
            client.close(timeout=_PATIENCE)


def _hushed() -> None:
    """Keep the client's log off the terminal: what matters is told in our own words."""
    for name in (*_TALKATIVE, *logging.root.manager.loggerDict):
        if name.split(".")[0] in _TALKATIVE:
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)


def _knock(address: str) -> None:
    """See whether anybody answers, before a client tries for long. Raises EngineError."""
    try:
        parts = urlsplit(address)
        if parts.hostname is None or parts.port is None:
            raise ValueError("an address is like tcp://bench:8786")
        socket.create_connection((parts.hostname, parts.port), _PATIENCE).close()
    except (OSError, ValueError) as error:
        raise _unreachable(address, error) from error


def _threads(client: Any, address: str) -> int:
    """How many tasks can be at work at a time. Raises EngineError where that is none."""
    try:
        client.wait_for_workers(1, timeout=_PATIENCE)
        return sum(client.nthreads().values())
    except (OSError, TimeoutError) as error:
        what = f"the cluster at {address} has no workers"
        raise EngineError(findings=[Finding.of("workers-gone", what)]) from error


def _unreachable(address: str, error: Exception) -> EngineError:
    said = (isinstance(error, OSError) and error.strerror) or error
    what = f"no cluster can be reached at {address}: {said}"
    return EngineError(findings=[Finding.of("cluster-unreachable", what)])
