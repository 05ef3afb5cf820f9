"""Plan folders to stake from."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

# tests import these by their names: closed forms that judge the rooms, and what writes the pages of docs/
sys.path += [str(Path(__file__).parent / "referees"), str(Path(__file__).parents[1] / "docs")]


def _module(name):
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).parent / "builders" / f"{name}.py")
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


@pytest.fixture
def day(tmp_path):
    """The day sheet's plan folder; takes fittings by station."""
    return lambda **kw: _module("day_sheet").plan_folder(tmp_path / "day", **kw)


@pytest.fixture
def swale_drive(tmp_path):
    """The story of the driveway: its site folder."""
    return _module("driveway_story").site_folder(tmp_path / "site")


@pytest.fixture
def metric_lot(tmp_path):
    """The lot in metres: its site folder; takes the tables of site.toml."""
    return lambda **kw: _module("metric_lot").site_folder(tmp_path / "metric", **kw)


@pytest.fixture
def shots(tmp_path):
    """Write a file of shots; returns its path as text."""

    def write(text, name="shots.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write
