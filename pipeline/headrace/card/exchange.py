"""Names of files in one folder, changed in one step of the operating system each.

A name is given only where nothing has it, and two names change places without a moment at which
one of them is missing: on a FAT card the two directory entries change what they lead to, and no
space is given back or taken.
"""

from __future__ import annotations

import errno
import os
import sys
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import ctypes

_HERE = -100
"""AT_FDCWD of openat(2): paths count from the working folder."""
_WAYS = {"linux": (1, 2), "darwin": (4, 2)}
"""By system: the flags `only where nothing has the name` and `change places`.

RENAME_NOREPLACE and RENAME_EXCHANGE of renameat2(2); RENAME_EXCL and RENAME_SWAP of
renamex_np(2), from memory.
"""
_NO_SUCH_THING = frozenset([errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP])


def give(staged: Path, name: Path) -> None:
    """Give a file a name that nothing has. Raises FileExistsError where something has it; OSError.

    Where the system cannot do both in one step, it is looked first.
    """
    if not renamed(staged, name, _WAYS.get(sys.platform, (0, 0))[0]):
        if os.path.lexists(name):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(name))
        staged.rename(name)


def exchange(one: Path, other: Path) -> bool:
    """Let two files change names; False where system or file system cannot. OSError."""
    return renamed(one, other, _WAYS.get(sys.platform, (0, 0))[1])


def renamed(one: Path, other: Path, flag: int) -> bool:
    """Rename as the flag says; False where system or file system knows no such flag. OSError."""
    call = _call() if flag else None
    if call is None:
        return False
    import ctypes

    paths = os.fsencode(one), os.fsencode(other)
    done = call(*paths, flag) if sys.platform == "darwin" else call(
        _HERE, paths[0], _HERE, paths[1], flag
    )  # fmt: skip
    if done == 0:
        return True
    fault = ctypes.get_errno()
    if fault in _NO_SUCH_THING:
        return False
    raise OSError(fault, os.strerror(fault), str(one), None, str(other))


@cache
def _call() -> ctypes._NamedFuncPointer | None:
    """The system's call; None where it has none."""
    import ctypes

    try:
        library = ctypes.CDLL(None, use_errno=True)
        return library.renamex_np if sys.platform == "darwin" else library.renameat2
    except (AttributeError, OSError, TypeError):  # no such call, or no such way to call it
        return None
