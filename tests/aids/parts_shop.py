"""A shop with a parts list and three suppliers, for tests of estimates, kits, bins and orders."""

from __future__ import annotations

from pathlib import Path

from aids.shops import SHOP, Clock, make_shop
from shopboard.store import FolderStore, open_shop

#: The kit of the exchange unit: three numbers from three suppliers. EX-9 is sent instead of EX-8; the filter changed
#: with serial K-100.
PARTS = """
[[part]]
number = "EX-8"
name = "exchange unit"
replaced_by = "EX-9"

[[part]]
number = "EX-9"
name = "exchange unit"
supplier = "east"
price = "900.00"
lead_class = "unit"
core_charge = "120.00"
core_days = 30

[[part]]
number = "F-1"
name = "drive oil filter"
supplier = "north"
price = "20.00"
serials_to = "K-99"
return_days = 14

[[part]]
number = "F-2"
name = "drive oil filter"
supplier = "north"
price = "24.00"
serials_from = "K-100"

[[part]]
number = "OIL"
name = "drive oil"
supplier = "seal"
price = "9.50"
bin = "A-1"
"""


def parts_shop(folder: Path, clock: Clock | None = None) -> FolderStore:
    """An open store on a new shop in `folder`."""
    clock = clock or Clock()
    make_shop(folder, clock).close()
    east = '[[supplier]]\nid = "east"\nname = "East Units"\nusual_days = 12\n'
    (folder / "shop.toml").write_text(f"{SHOP}\n{east}", encoding="utf-8")
    (folder / "parts.toml").write_text(PARTS, encoding="utf-8")
    return open_shop(folder, clock=clock)
