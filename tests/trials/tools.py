"""Tools of the system that a trial needs."""

from __future__ import annotations

import os
import shutil

import pytest

PACKAGES = {
    "strace": "strace",
    "mkfs.vfat": "dosfstools",
    "fsck.fat": "dosfstools",
    "mcopy": "mtools",
    "mdel": "mtools",
    "mren": "mtools",
    "patch": "patch",
    "git": "git",
    "chromium": "chromium",
    "pdftotext": "poppler-utils",
}
"""The Debian package of each."""
_REQUIRED = os.environ.get("HEADRACE_TOOLS") == "required"


def needed_tools(*names: str) -> None:
    """Skip the test and say aloud what is missing; fail instead where all tools are required."""
    missing = [name for name in names if found(name) is None]
    if not missing:
        return
    packages = " ".join(sorted({PACKAGES.get(name, name) for name in missing}))
    said = f"not on this machine: {', '.join(missing)} (apt-get install {packages})"
    if _REQUIRED:
        pytest.fail(said)
    pytest.skip(said)


def found(name: str) -> str | None:
    """Where a tool is, also where only the superuser's path leads."""
    places = os.pathsep.join([os.environ.get("PATH", os.defpath), "/usr/sbin", "/sbin"])
    return shutil.which(name, path=places)
