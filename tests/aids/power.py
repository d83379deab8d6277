"""A small file system on a loop device, and the power cut: what the device held at one moment, mounted again."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

_SIZE = 48 * 2**20


def _run(*command: str | Path) -> None:
    subprocess.run([*map(str, command)], check=True, capture_output=True, text=True)


@contextlib.contextmanager
def mounted(image: Path, at: Path) -> Iterator[Path]:
    """The image mounted at `at`. Its own journal is written when somebody syncs, not by the clock."""
    at.mkdir(exist_ok=True)
    _run("mount", "-o", "loop,commit=600", image, at)
    try:
        yield at
    finally:
        if subprocess.run(["umount", str(at)], capture_output=True).returncode:
            _run("umount", "-l", at)  # a test that fails still holds files open there


def new_image(place: Path) -> Path:
    """An image with an empty ext4 file system; skips the test, aloud, where none can be made or mounted."""
    image = place / "disk.img"
    if os.name != "posix" or os.geteuid() != 0 or not shutil.which("mkfs.ext4"):
        pytest.skip("NO POWER CUT WAS TRIED: mounting a loop device needs root and mkfs.ext4 on Linux")
    with image.open("wb") as file:
        file.truncate(_SIZE)
    try:
        _run("mkfs.ext4", "-q", "-F", image)
        with mounted(image, place / "mnt"):
            pass
    except (OSError, subprocess.CalledProcessError) as error:
        said = error.stderr.strip() if isinstance(error, subprocess.CalledProcessError) else str(error)
        pytest.skip(f"NO POWER CUT WAS TRIED: a loop device cannot be mounted here ({said})")
    return image


def cut(image: Path, copy: Path) -> None:
    """Keep what the device holds at this moment: all that was synced, nothing that only memory holds."""
    shutil.copyfile(image, copy)
