"""Site folders to break."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest


def _builder(name: str = "sites_builder") -> ModuleType:
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


_builder()  # the other builders import it by its name


@pytest.fixture
def honest() -> ModuleType:
    """The builder of seeded lots with every pipe, unit and frame."""
    return _builder("honest_lots")


@pytest.fixture(scope="session")
def honest_lots() -> ModuleType:
    """The same for plans that a whole file of tests shares."""
    return _builder("honest_lots")


@pytest.fixture
def sites() -> ModuleType:
    """The builder of invented sites."""
    return _builder()


@pytest.fixture
def site(tmp_path: Path) -> Callable[..., Path]:
    """Build a site folder named 'site' under tmp_path."""
    return lambda **kw: _builder().build(tmp_path / "site", **kw)


@pytest.fixture
def stories() -> ModuleType:
    """The builder of the six stories' sites."""
    return _builder("story_sites")


@pytest.fixture(scope="session")
def lots() -> ModuleType:
    """The builder of invented lots by a seed."""
    _builder()
    return _builder("random_lots")


@pytest.fixture(scope="session")
def planned_lot(
    lots: ModuleType, plan_once: Callable[..., Any], tmp_path_factory: pytest.TempPathFactory
) -> Callable[[int], Any]:
    """An invented lot by its seed, planned once in a run; to be read only."""
    sites: dict[int, Path] = {}

    def once(seed: int) -> Any:
        if seed not in sites:
            sites[seed] = lots.lot(tmp_path_factory.mktemp("lots") / f"lot{seed}", seed)
        return plan_once(sites[seed])

    return once


@pytest.fixture(scope="session")
def planned_honest(
    honest_lots: ModuleType, plan_once: Callable[..., Any], tmp_path_factory: pytest.TempPathFactory
) -> Callable[[int], Any]:
    """An honest lot by its number, planned once in a run, with a date on its sheets; to be read only."""
    sites: dict[int, Path] = {}

    def once(number: int) -> Any:
        if number not in sites:
            sites[number] = tmp_path_factory.mktemp("honest") / "site"
            honest_lots.honest_lot(sites[number], number)
        return plan_once(sites[number], "--date", "2026-04-02")

    return once
