"""Tests run in a child of a process that has the libraries loaded: which functions each calls, and whether one fails.

A child is forked from the parent, so a run of tests costs what its tests cost and no imports. The parent loads the
package as it stands; a child that tries a changed file forgets that module and all that import it, and loads them anew.
"""

from __future__ import annotations

import contextlib
import json
import os
import pkgutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

LIBRARIES = (
    "numpy numba scipy.optimize scipy.linalg scipy.sparse scipy.interpolate scipy.spatial shapely.ops "
    "geopandas rasterio.features"
    " folium pyogrio pyproj contourpy PIL hypothesis pytest _pytest.doctest skimage.graph xml.etree.ElementTree"
)
ARGUMENTS = [
    "-n",
    "0",
    "-q",
    "-x",
    "-p",
    "no:randomly",
    "-m",
    "not browser and not slow",
    "--no-header",
    "--tb=no",
    "-o",
    "filterwarnings=",
]


def warm(root: Path) -> None:
    """Load the libraries, the package and its compiled kernels."""
    import importlib
    import io

    os.chdir(root)
    sys.path.insert(0, str(root))
    os.environ["PYTHONPATH"] = str(root)
    for name in LIBRARIES.split():
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    from siteplan.cli.main import main

    with tempfile.TemporaryDirectory() as out, contextlib.redirect_stdout(io.StringIO()):
        main(["plan", str(root / "sample_sites" / "alder-court"), "--out", out + "/plan"])
    kept = {name: module for name, module in sys.modules.items() if name in compiled_modules()}
    for name in [name for name in sys.modules if name.split(".")[0] == "siteplan"]:
        del sys.modules[name]  # what a plan left in their caches would hide a change
    sys.modules.update(kept)
    package = importlib.import_module("siteplan")
    for found in pkgutil.walk_packages(package.__path__, "siteplan."):
        if not found.name.endswith("__main__"):
            importlib.import_module(found.name)


def compiled_modules() -> set[str]:
    """Modules with machine code of their own, which takes a second to load."""
    return {
        "siteplan.compiling",
        "siteplan.ground.compiled_flow",
        "siteplan.ground.compiled_fill",
        "siteplan.survey.tin_scan",
        "siteplan.routes.kernels",
        "siteplan.routes.reach",
    }


def forget(files: set[str], *, compiled: str | None) -> None:
    """Take modules out of this process; with a folder for it, compiled code too."""
    if compiled:
        from numba.core import config

        config.CACHE_DIR = compiled
        os.environ["NUMBA_CACHE_DIR"] = compiled
    for file in files:
        name = file.removesuffix(".py").replace("/", ".").removesuffix(".__init__")
        gone = sys.modules.pop(name, None)
        parent = sys.modules.get(name.rpartition(".")[0])
        if gone is not None and parent is not None and hasattr(parent, name.rpartition(".")[2]):
            delattr(parent, name.rpartition(".")[2])


class StuckError(Exception):
    """A test takes many times what it took."""


class Chooser:
    """A plugin: keeps some tests in some order (all where it is empty), stops when its seconds of the processor are up.

    Tells the first that fails.
    """

    def __init__(self, order: dict[str, int], usual: dict[str, float], until: float) -> None:
        self.order, self.usual, self.until = order, usual, until
        self.failed = ""
        self.out_of_time = False

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        if self.order:
            kept = (item for item in items if item.nodeid in self.order)
            items[:] = sorted(kept, key=lambda item: self.order[item.nodeid])

    def pytest_runtest_protocol(self, item: Any) -> None:
        if time.process_time() > self.until:
            self.out_of_time = True
            item.session.shouldstop = "time is up"
        signal.signal(signal.SIGPROF, self._ring)
        signal.setitimer(signal.ITIMER_PROF, 20 + 10 * self.usual.get(item.nodeid, 5.0))

    def _ring(self, _number: int, _frame: FrameType | None) -> None:
        raise StuckError

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.when == "teardown":
            signal.setitimer(signal.ITIMER_PROF, 0)
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report: Any) -> None:
        if report.failed and not self.failed:
            self.failed = f"{report.nodeid} (cannot be read)"


class Recorder:
    """A plugin: seconds of each test, the functions of the package that it calls.

    Also those called to collect the file.
    """

    def __init__(self, root: Path) -> None:
        self.root = f"{root}/"
        self.codes: set[CodeType] = set()
        self.tests: dict[str, tuple[float, list[tuple[str, str]]]] = {}
        self.failed: list[str] = []
        self.collected: list[tuple[str, str]] = []

    def pytest_collection(self) -> None:
        sys.settrace(self._call)

    def pytest_collection_finish(self) -> None:
        sys.settrace(None)
        self.collected = self._called()

    def _called(self) -> list[tuple[str, str]]:
        own = f"{self.root}siteplan/"
        codes = (code for code in self.codes if code.co_filename.startswith(own))
        return sorted({(code.co_filename.removeprefix(self.root), code.co_qualname) for code in codes})

    def _call(self, frame: FrameType, _event: str, _value: object) -> None:
        self.codes.add(frame.f_code)

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed:
            self.failed.append(report.nodeid)

    def pytest_runtest_protocol(self, item: Any, nextitem: Any) -> bool:
        from _pytest.runner import runtestprotocol

        self.codes = set()
        began = time.monotonic()
        sys.settrace(self._call)
        try:
            runtestprotocol(item, nextitem=nextitem, log=True)
        finally:
            sys.settrace(None)
        self.tests[item.nodeid] = (time.monotonic() - began, self._called())
        return True


def in_child(work: Callable[[], Any], patience: float) -> Any:
    """What some work gives, done in a forked child whose words go nowhere; None when it dies or takes too long."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        os.setsid()
        code = 1
        with contextlib.suppress(BaseException):
            nowhere = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(nowhere, stream)
            answer = json.dumps(work()).encode()
            with os.fdopen(writer, "wb") as pipe:
                pipe.write(answer)
            code = 0
        os._exit(code)
    os.close(writer)
    got = b"".join(_chunks(reader, time.monotonic() + patience))
    os.close(reader)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    try:
        return json.loads(got)
    except ValueError:
        return None


def _chunks(reader: int, until: float) -> Iterator[bytes]:
    import select

    while (left := until - time.monotonic()) > 0:
        if select.select([reader], [], [], left)[0]:
            some = os.read(reader, 1 << 16)
            if not some:
                return
            yield some


def record(root: Path, test_file: str, patience: float) -> dict[str, Any]:
    """Seconds and functions of each test of a file; {} where it could not be run in time."""

    def work() -> dict[str, Any]:
        import pytest

        recorder = Recorder(root)
        pytest.main([*(a for a in ARGUMENTS if a != "-x"), test_file], plugins=[recorder])
        return {"tests": recorder.tests, "failed": recorder.failed, "collected": recorder.collected}

    return in_child(work, patience) or {}


def first_failing(
    prepare: Callable[[], None], files: list[str], order: list[str], usual: dict[str, float], seconds: float
) -> tuple[str, bool, float]:
    """The first test that fails, '' for none; whether the time was up before all had run.

    Processor seconds that it took.
    """

    def work() -> tuple[str, bool, float]:
        import pytest

        prepare()
        chooser = Chooser({test: n for n, test in enumerate(order)}, usual, seconds)
        code = pytest.main([*ARGUMENTS, *files], plugins=[chooser])
        failed = chooser.failed or (f"pytest ended with {int(code)}" if int(code) not in {0, 2, 5} else "")
        return failed, chooser.out_of_time, time.process_time()

    answer = in_child(work, 10 * seconds + 300)  # by the clock: other work may share the machine
    return (answer[0], answer[1], answer[2]) if answer else ("the tests' process died or hung", False, 0.0)
