"""docs/plan-json.md names every key that a plan writes, and no other."""

from __future__ import annotations

import json
import re
from pathlib import Path

from siteplan.cli.main import main

REPO = Path(__file__).parents[2]


def keys(value, found):
    if isinstance(value, dict):
        for key, held in value.items():
            found.add(key)
            keys(held, found)
    elif isinstance(value, list):
        for held in value:
            keys(held, found)
    return found


def test_the_page_and_the_file_agree(tmp_path, capsys):
    written = set()
    for name in ("alder-court", "marsh-lane", "long-meadow"):
        assert main(["plan", str(REPO / "sample_sites" / name), "--out", str(tmp_path / name)]) in {0, 1}
        keys(json.loads((tmp_path / name / "plan.json").read_text(encoding="utf-8")), written)
    page = (REPO / "docs" / "plan-json.md").read_text(encoding="utf-8")
    told = set(re.findall(r"`(?:[a-z_]+(?:\[\])?\.)*([a-z_0-9]+)`", page))
    assert sorted(written - told) == []
    words = {"asked", "laid", "siteplan", "null", "sure", "fails", "pass", "flag", "fail", "_s"}
    assert sorted(told - written - words) == []
