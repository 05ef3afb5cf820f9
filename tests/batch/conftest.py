"""A small subdivision, planned once in a run."""

from __future__ import annotations

import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from siteplan.cli.main import main

sys.path.append(str(Path(__file__).parent))
sys.path.append(str(Path(__file__).parents[1] / "builders"))

from batch_lots import subdivision


@pytest.fixture(scope="session")
def batched(tmp_path_factory, even_ground):
    """The subdivision planned once: where its `sites` and `out` are, and the exit `code`."""
    home = tmp_path_factory.mktemp("batch")
    sites = subdivision(home / "sites", even_ground)
    code = main(["batch", str(sites), "--out", str(home / "out"), "--workers", "0", "--layouts", "1"])
    return SimpleNamespace(sites=sites, out=home / "out", code=code)
