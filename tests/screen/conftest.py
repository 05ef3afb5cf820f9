"""An invented county, written and screened once in a run."""

from __future__ import annotations

import csv
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from siteplan.cli.main import main

sys.path.append(str(Path(__file__).parent))
sys.path.append(str(Path(__file__).parents[1] / "builders"))

import county


def screen(paths, out, *options):
    """Exit code, and the rows by the lot's name."""
    given = [f"--{name}={path}" for name, path in paths.items()]
    code = main(["screen", *given, "--out", str(out), "--workers", "0", *options])
    if code == 2:
        return code, {}
    with (out / "screen.csv").open(encoding="utf-8-sig") as file:
        return code, {row["lot"]: row for row in csv.DictReader(file)}


@pytest.fixture(scope="session")
def screened(tmp_path_factory):
    """Twelve lots over tiles of 37 m: the `paths`, and the `rows` of a screen of them."""
    home = tmp_path_factory.mktemp("county")
    paths = county.county(home / "in", 12, tile=37)
    code, rows = screen(paths, home / "out", "--name", "parcel")
    return SimpleNamespace(paths=paths, out=home / "out", code=code, rows=rows, screen=screen, county=county)
