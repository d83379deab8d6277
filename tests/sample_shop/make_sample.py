"""Make the sample shop's journal and parts list: `python tests/sample_shop/make_sample.py [FILE]` writes what
sample_shop ships.

Everything is drawn with one seed, so the same sources and rules always give the same file.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parents[2])]

from making.parts_file import text  # noqa: E402
from making.shop import build  # noqa: E402
from making.sources import SHIPPED, sources  # noqa: E402

if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else SHIPPED / "journal.jsonl.gz"
    (target.with_name("parts.toml")).write_text(text(sources()), encoding="utf-8")
    data = build()
    target.write_bytes(data)
    print(f"{target}: {len(data):,} bytes")
