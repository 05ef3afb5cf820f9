"""The screen against full plans of the same lots, and what more lots cost."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest


@pytest.fixture(scope="module")
def proof():
    path = Path(__file__).parents[2] / "benchmarks" / "screen.py"
    spec = importlib.util.spec_from_file_location("screen_benchmark", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.slow
def test_no_lot_said_to_drain_has_a_full_plan_that_does_not(proof, tmp_path):
    works, false_works, short, false_short = proof.wrongly(proof.against_plans(tmp_path, 10, 0.09))
    assert works >= 2
    assert short >= 2
    assert false_works == false_short == 0


@pytest.mark.slow
def test_memory_and_time_do_not_outgrow_the_lots(proof, tmp_path):
    few, more = (proof.grown(tmp_path, count, 1) for count in (100, 400))
    assert more[0] < 4.4 * few[0]
    assert more[1] < few[1] + 60  # MiB
