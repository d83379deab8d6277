"""Copies of a shop that lie beside it, such as backups and what a restore put aside: found, never touched."""

from __future__ import annotations

import zipfile
import zlib
from pathlib import Path

import msgspec

from .restore import KIND, MANIFEST, Manifest
from .shop_files import read_settings


def copies_near(shop: Path) -> tuple[str, ...]:
    """Backups of this shop, and other folders that are shops of its name, in the folder it stands in and right under
    that. What lies elsewhere cannot be known from here."""
    shop = shop.resolve()
    name = read_settings(shop).name
    found = []
    for path in sorted([*shop.parent.glob("*"), *shop.parent.glob("*/*")]):
        if path == shop or shop in path.parents:
            continue
        try:
            copy = _is_shop(path, name) if path.is_dir() else path.suffix == ".zip" and _is_backup(path, name)
        except OSError:
            continue
        if copy:
            found.append(str(path))
    return tuple(found)


def _is_shop(path: Path, name: str) -> bool:
    if not ((path / "shop.toml").is_file() and (path / "journal").is_dir()):
        return False
    return f'"{name}"' in (path / "shop.toml").read_text(encoding="utf-8", errors="replace")


def _is_backup(path: Path, name: str) -> bool:
    try:
        with zipfile.ZipFile(path) as packed:
            manifest = msgspec.json.decode(packed.read(MANIFEST), type=Manifest)
    except (
        zipfile.BadZipFile,
        zlib.error,
        KeyError,
        msgspec.DecodeError,
        UnicodeDecodeError,
        ValueError,
        RuntimeError,
    ):
        return False
    return manifest.kind == KIND and manifest.shop == name
