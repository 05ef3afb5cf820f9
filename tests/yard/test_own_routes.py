"""Drawn routes, legal, illegal and near misses, judged as arithmetic done by hand judges them.

A slice of benchmarks/own_routes.py.
"""

import importlib.util
import json
from pathlib import Path

import pytest

REPO = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def bench():
    spec = importlib.util.spec_from_file_location("own_routes", REPO / "benchmarks" / "own_routes.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_routes_are_judged_as_by_hand(bench, tmp_path, plan_once):
    every = bench.routes()
    assert len(every) == len(set(every)) == 50
    # lawful; a hair below the join's level; below the old pipe; a hair too flat; uphill; near misses of cover, both
    # ways
    some = [every[0], every[3], every[5], every[7], every[8], every[18], every[29]]
    wanted = [bench.expected(*one) for one in some]
    assert {status for one in wanted for status in one.values()} == {"pass", "flag", "fail"}
    assert sum("fail" in one.values() for one in wanted) >= 4
    made = plan_once(bench.lot(tmp_path / "site", some))
    record = json.loads((made.folder / "plan.json").read_text("utf-8"))
    assert bench.differences(record, some) == []
    broken = [own for own in record["own_lines"] if own["fails"]]
    assert broken
    assert all(own["mends"][0]["proven"] for own in broken)
