"""One folder begun from what lay on a desk, ready for a plan."""

from __future__ import annotations

import pytest

from siteplan.cli.main import main


@pytest.fixture(scope="module")
def ready(heap, tmp_path_factory):
    """A folder begun from points and features, its open questions answered by options."""
    folder = tmp_path_factory.mktemp("ready") / "lot 3"
    arguments = ["--points", heap / "headed.csv", "--features", heap / "lot.geojson", "--crs", "local", "--unit", "ft"]
    assert main(["new", str(folder), *map(str, arguments)]) == 0
    return folder
