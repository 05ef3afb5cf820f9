"""Plan folders to stake from."""

from __future__ import annotations

import contextlib
import importlib.util
import io
import os
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

# as the program does it, before any test loads numpy
for _threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

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


@pytest.fixture(scope="session")
def even_ground():
    """The builder of lots on even ground."""
    return _module("even_ground")


@pytest.fixture
def swale_drive(tmp_path):
    """The story of the driveway: its site folder."""
    return _module("driveway_story").site_folder(tmp_path / "site")


_USUAL = "siteplan.cli.plan.USUAL_LAYOUTS"


@pytest.fixture(scope="session", autouse=True)
def _one_layout():
    """No other layouts beside a plan that a test does not ask them of: each is a plan more."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(_USUAL, 1)
        yield


@pytest.fixture(scope="module")
def usual_layouts():
    """As many layouts as a user gets who asks for none."""
    from siteplan.values import USUAL_LAYOUTS

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(_USUAL, USUAL_LAYOUTS)
        yield USUAL_LAYOUTS


@pytest.fixture(scope="session")
def plan_once(tmp_path_factory):
    """Plan a site folder, once in a run: the site `at` which place, its plan's `folder`, exit `code`, what was `said`, and `plan` and `site` as values.

    The folder is everybody's: who edits a plan copies it first. That nobody did otherwise is tried at the end.
    """
    made, before = {}, {}

    def once(site, *options):
        import siteplan.cli.plan

        key = (str(site), siteplan.cli.plan.USUAL_LAYOUTS, *options)
        if key not in made:
            made[key] = planned(site, options)
            before[key] = _bytes_of(made[key].folder)
        return made[key]

    def planned(site, options):
        import siteplan.plan
        from siteplan.cli.main import main

        whole, kept = siteplan.plan.plan_site, []
        said, told = io.StringIO(), io.StringIO()

        def keeping(*given, **named):
            kept[:] = whole(*given, **named)
            return tuple(kept)

        folder = tmp_path_factory.mktemp("once") / site.name
        with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(said), contextlib.redirect_stderr(told):
            patch.setattr(siteplan.plan, "plan_site", keeping)
            code = main(["plan", str(site), "--out", str(folder), *options])
        assert code in {0, 1}, told.getvalue()
        plan, read = kept
        return SimpleNamespace(at=site, folder=folder, code=code, said=said.getvalue(), plan=plan, site=read)

    yield once
    for key, one in made.items():
        assert _bytes_of(one.folder) == before[key], f"a test edited the plan of {key} that all tests share"


def _bytes_of(folder):
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="session")
def sample_plan(plan_once):
    """A sample by its name, planned once in a run."""
    return lambda name: plan_once(Path(__file__).parents[1] / "sample_sites" / name)


@pytest.fixture(scope="session")
def drive_plan(plan_once, tmp_path_factory):
    """The story of the driveway, planned once in a run."""
    site = _module("driveway_story").site_folder(tmp_path_factory.mktemp("drive") / "site")
    return lambda: plan_once(site)


@pytest.fixture
def metric_lot(tmp_path):
    """The lot in metres: its site folder; takes the tables of site.toml."""
    return lambda **kw: _module("metric_lot").site_folder(tmp_path / "metric", **kw)


@pytest.fixture(scope="session")
def pumped_lot():
    """The builder of lots below their street."""
    return _module("pumped_lot")


@pytest.fixture
def shots(tmp_path):
    """Write a file of shots; returns its path as text."""

    def write(text, name="shots.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write
