"""Engines: what carries out the tasks of a batch. All give the same records and the same files.

`Serial` works in this process, `Processes` in processes of its own on this machine, and `Borrowed`
through an executor that somebody else runs, such as that of a cluster.
"""

from headrace.batch.engines.borrowed import Borrowed
from headrace.batch.engines.choice import chosen, get_ready
from headrace.batch.engines.engine import Engine, Told, size_of
from headrace.batch.engines.processes import Processes
from headrace.batch.engines.serial import Serial

__all__ = ["Borrowed", "Engine", "Processes", "Serial", "Told", "chosen", "get_ready", "size_of"]
