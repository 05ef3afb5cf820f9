"""A batch killed on the way and gone on with, and one on a cluster that loses a worker.

The same bytes as one undisturbed.
"""

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
def test_killed_twice_and_gone_on_with(told, tmp_path):
    found = dict(told(24, 3, tmp_path, cluster=True, plain=True))
    assert found["exit code"] == found["exit code on the cluster"] == 1
    assert 6 <= found["done when the command was killed"] < 12
    assert found["processes that outlived it"] == 0
    assert 12 <= found["done when the whole group was killed"] < 24
    assert found["planned after it"] == 24 - found["done when the whole group was killed"]
    assert found["files that differ after the kills"] == []
    assert 8 <= found["done when a worker of the cluster was killed"] < 24
    assert found["files that differ on a cluster that lost a worker"] == []
