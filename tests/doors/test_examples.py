"""The examples in the docstrings give what they say they give."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

REPO = Path(__file__).parents[2]
WITH_EXAMPLES = sorted(
    ".".join(path.relative_to(REPO).with_suffix("").parts)
    for path in (REPO / "siteplan").rglob("*.py")
    if ">>> " in path.read_text(encoding="utf-8")
)


def test_there_are_examples():
    assert len(WITH_EXAMPLES) >= 20


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_hold(name):
    tried = doctest.testmod(importlib.import_module(name), report=False)
    assert tried.attempted
    assert not tried.failed
