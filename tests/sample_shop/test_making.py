"""What ships is what the seeded script makes."""

from __future__ import annotations

import gzip
import json
import subprocess
import sys
from pathlib import Path

MAKER = Path(__file__).with_name("make_sample.py")
SHIPPED = MAKER.parents[2] / "sample_shop" / "journal.jsonl.gz"


def changes(path: Path) -> list[object]:
    """The lines of a journal. The last figures of a probability depend on the machine's arithmetic: 9 are compared."""
    lines = gzip.decompress(path.read_bytes()).splitlines()
    return [json.loads(line, parse_float=lambda figures: round(float(figures), 9)) for line in lines]


def test_the_script_makes_the_shipped_journal_exactly(tmp_path: Path) -> None:
    made = tmp_path / "journal.jsonl.gz"
    subprocess.run([sys.executable, str(MAKER), str(made)], check=True, timeout=300, capture_output=True)
    assert changes(made) == changes(SHIPPED), (
        "rules, book or sources have changed: run tests/sample_shop/make_sample.py and look at what it made"
    )
    parts = "parts.toml"
    assert made.with_name(parts).read_text("utf-8") == SHIPPED.with_name(parts).read_text("utf-8")
