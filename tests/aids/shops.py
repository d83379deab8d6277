"""Small shops for tests: settings, a few models, one open store."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from shopboard.store import FolderStore, new_shop, open_shop

SHOP = """
name = "Test shop"
zone = "Europe/Berlin"
currency = "EUR"
labour_rate = "60"

[hours]
mon = "08:00-17:00"
tue = "08:00-17:00"
wed = "08:00-17:00"
thu = "08:00-17:00"
fri = "08:00-15:00"

[[bay]]
id = "1"
name = "lift"
can = ["lift", "hoist", "clean bench", "exhaust"]

[[bay]]
id = "2"
name = "clean"
can = ["clean bench"]

[[bay]]
id = "3"
name = "yard"
can = ["yard"]

[[person]]
id = "ana"
name = "Ana"
roles = ["counter", "technician"]
skills = ["service", "hydrostat", "driveline", "engine"]

[[person]]
id = "bo"
name = "Bo"
roles = ["technician"]
skills = ["service", "driveline"]

[[person]]
id = "cy"
name = "Cy"
roles = ["owner", "counter"]

[[supplier]]
id = "north"
name = "North Parts"
usual_days = 3

[[supplier]]
id = "seal"
name = "Seal House"
usual_days = 9
"""

MODELS = "\n".join(
    f"""
[[model]]
id = "{layout}-1"
name = "Test {layout}"
layout = "{layout}"
"""
    for layout in ("in-line", "split", "transaxle", "gear")
)

#: A Tuesday morning, 10:42 in the shop's zone.
MORNING = datetime(2026, 11, 24, 9, 42, tzinfo=UTC)


class Clock:
    """A clock that tests move."""

    def __init__(self, at: datetime = MORNING) -> None:
        self.at = at

    def __call__(self) -> datetime:
        return self.at

    def pass_(self, **time: float) -> None:
        """Let time pass."""
        self.at += timedelta(**time)


def make_shop(folder: Path, clock: Clock | None = None) -> FolderStore:
    """An open store on a new shop in `folder`."""
    new_shop(folder)
    (folder / "shop.toml").write_text(SHOP, encoding="utf-8")
    (folder / "models.toml").write_text(MODELS, encoding="utf-8")
    return open_shop(folder, clock=clock or Clock())
