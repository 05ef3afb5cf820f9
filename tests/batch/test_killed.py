"""A batch killed on the way and gone on with, and one on a cluster that loses a worker: the same bytes as one undisturbed."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest


@pytest.fixture(scope="module")
def told():
    path = Path(__file__).parents[2] / "benchmarks" / "batch.py"
    spec = importlib.util.spec_from_file_location("batch_benchmark", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module.told


@pytest.mark.slow
def test_killed_at_the_half_and_gone_on_with(told, tmp_path):
    found = told(24, 3, tmp_path, cluster=True, plain=True)
    assert found["exit code"] == found["exit code on the cluster"] == 1
    assert 12 <= found["done when killed"] < 24
    assert found["processes that outlived it"] == 0
    assert int(found["planned after it"]) == 24 - found["done when killed"]
    assert found["same bytes after the kill"] is True
    assert found["same bytes on a cluster that lost a worker"] is True
