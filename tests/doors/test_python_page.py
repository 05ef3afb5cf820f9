"""docs/python.md, run as it stands; the functions have the commands' names, and loading them loads nothing heavy."""

from __future__ import annotations

import doctest
import inspect
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import siteplan
from siteplan import api
from siteplan.cli.main import COMMANDS

REPO = Path(__file__).parents[2]


def test_the_page_gives_what_it_says(heap, tmp_path, monkeypatch):
    shutil.copy(heap / "headed.csv", tmp_path / "crew.csv")
    shutil.copy(heap / "lot.geojson", tmp_path)
    monkeypatch.chdir(tmp_path)
    tried = doctest.testfile(str(REPO / "docs" / "python.md"), module_relative=False)
    assert tried.attempted >= 10
    assert tried.failed == 0


def test_names_are_those_of_commands():
    page = (REPO / "docs" / "python.md").read_text(encoding="utf-8")
    named = re.findall(r"^\| `(\w+)` \| `siteplan (\w+)`", page, re.MULTILINE)
    assert len(named) >= 7
    for name, command in named:
        assert name == command
        assert name in COMMANDS
        assert inspect.isfunction(getattr(api, name))
    with pytest.raises(AttributeError, match="nonsense"):
        _ = api.nonsense
    assert siteplan.api is api


def test_loading_it_loads_nothing_heavy():
    text = (
        "import sys; from siteplan import api; api.deed('unit = ft\\nNorth 3\\nEast 4\\nSouth 3\\nWest 4')\n"
        "print(sorted({'numpy', 'shapely', 'pyproj', 'numba', 'rasterio'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", text], cwd=REPO, capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
