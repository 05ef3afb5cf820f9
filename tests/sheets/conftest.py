"""The invented lot, for every test of this room."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest


def _invented():
    """Modules of this folder are no package: load the builder by its path, once."""
    name = "siteplan_tests_invented"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name("invented.py"))
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


@pytest.fixture(scope="session")
def invented():
    return _invented()


@pytest.fixture(scope="session")
def yard(invented):
    return invented.yard()


@pytest.fixture(scope="session")
def metric_yard(invented):
    return invented.yard("m", local=True)


@pytest.fixture(scope="session")
def hopeless(invented):
    return invented.hopeless()
