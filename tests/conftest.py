"""Plan folders to stake from."""

from __future__ import annotations

import contextlib
import functools
import hashlib
import importlib.util
import io
import os
import pickle
import shutil
import subprocess
import sys
import tempfile
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


@pytest.fixture(scope="session")
def heap(tmp_path_factory):
    """What a surveyor left on a desk: points, grid, surface, features, plat, deed of one small lot."""
    return _module("desk_heap").written(tmp_path_factory.mktemp("heap"))


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


def pytest_configure(config):
    """Programs that tests start keep their byte code for the time of the suite, as any install keeps it."""
    if not hasattr(config, "workerinput"):
        config.bytecode = tempfile.mkdtemp(prefix="siteplan-bytecode-")
        os.environ["PYTHONPYCACHEPREFIX"] = config.bytecode
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


def pytest_unconfigure(config):
    """And it is gone afterwards."""
    if hasattr(config, "bytecode"):
        shutil.rmtree(config.bytecode, ignore_errors=True)


ON_DEMAND = frozenset(
    line
    for line in (Path(__file__).parent / "on_demand.txt").read_text(encoding="utf-8").splitlines()
    if line and not line.startswith("#")
)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """The cases of on_demand.txt are slow ones; a name there that its file does not know is told."""
    known = {item.nodeid for item in items}
    files = {name.partition("::")[0] for name in known}
    whole = {item.location[0] for item in items}
    for item in items:
        if item.nodeid in ON_DEMAND:
            item.add_marker(pytest.mark.slow)
    if len(whole) > 200:  # the whole suite was collected
        gone = {name for name in ON_DEMAND if name not in known and name.partition("::")[0] in files}
        assert not gone, f"tests/on_demand.txt names what is not there: {sorted(gone)}"


BROWSER = (
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
)


@pytest.fixture(scope="module")
def chromium():
    """Debian's chromium, opened once for a file. A bench without one skips; in CI its absence is a failure."""
    where = os.environ.get("SITEPLAN_CHROMIUM") or "/usr/bin/chromium"
    api = None
    if shutil.which(where):
        with contextlib.suppress(ImportError):
            from playwright import sync_api as api
    if api is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)(
            f"no chromium at {where} (set SITEPLAN_CHROMIUM), or no playwright"
        )
    with api.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=where, args=list(BROWSER))
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def paper():
    """The text of each sheet of a PDF, as it lies on paper. A bench without the extractor skips.

    In CI its absence is a failure.
    """
    if not shutil.which("pdftotext"):
        (pytest.fail if os.environ.get("CI") else pytest.skip)("no pdftotext (poppler-utils)")

    def sheets(file):
        asked = ["pdftotext", "-layout", str(file), "-"]
        return subprocess.run(asked, capture_output=True, text=True, check=True).stdout.split("\f")

    return sheets


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
    from siteplan.values.asked_for import USUAL_LAYOUTS

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(_USUAL, USUAL_LAYOUTS)
        yield USUAL_LAYOUTS


@pytest.fixture(scope="session")
def plan_once(tmp_path_factory):
    """Plan a site folder, once in a run.

    The site `at` which place, its plan's `folder`, exit `code`, what was `said`, and `plan` and `site` as values.

    The folder is everybody's, also of the processes that run other files: who edits a plan copies it first. That
    nobody did otherwise is tried at the end.
    """
    base = tmp_path_factory.getbasetemp()
    shared = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "once"
    made, before = {}, {}

    def once(site, *options):
        import siteplan.cli.plan

        asked = repr((site.name, siteplan.cli.plan.USUAL_LAYOUTS, options)).encode()
        key = hashlib.sha256(asked + pickle.dumps(sorted(_bytes_of(site).items()))).hexdigest()[:20]
        if key not in made:
            place = shared / key
            place.mkdir(parents=True, exist_ok=True)
            with (place / "lock").open("w") as lock:
                with contextlib.suppress(ImportError):  # where there is none, both plan it
                    import fcntl

                    fcntl.flock(lock, fcntl.LOCK_EX)
                if not (place / "made").exists():
                    (place / "made").write_bytes(pickle.dumps(planned(site, place / site.name, options)))
            code, said, plan = pickle.loads((place / "made").read_bytes())
            made[key] = _Once(at=site, folder=place / site.name, code=code, said=said, plan=plan)
            before[key] = _bytes_of(place / site.name)
        return made[key]

    def planned(site, folder, options):
        import siteplan.plan
        from siteplan.cli.main import main

        whole, kept = siteplan.plan.plan_site, []
        said, told = io.StringIO(), io.StringIO()

        def keeping(*given, **named):
            kept[:] = whole(*given, **named)
            return tuple(kept)

        with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(said), contextlib.redirect_stderr(told):
            patch.setattr(siteplan.plan, "plan_site", keeping)
            code = main(["plan", str(site), "--out", str(folder), *options])
        assert code in {0, 1}, told.getvalue()
        return code, said.getvalue(), kept[0]

    yield once
    for key, one in made.items():
        assert _bytes_of(one.folder) == before[key], f"a test edited the plan of {one.at} that all tests share"


class _Once(SimpleNamespace):
    """A plan that tests share."""

    @functools.cached_property
    def site(self):
        """As surveyed."""
        from siteplan.survey.folder import read_site

        return read_site(self.at)


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
