"""The owner's page says of a sump's open gap what the plan knows of it, and no more."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from siteplan.checks.ponding import air_gap
from siteplan.checks.scene import scene_of
from siteplan.laid.record import owner_page

_spec = importlib.util.spec_from_file_location("checks_scenes", Path(__file__).parents[1] / "checks" / "scenes.py")
scenes = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(scenes)

SUMP = {"id": "S1", "kind": "sump", "name": "PIT", "at": [40.0, 20.0], "pump_rate": 0.002}
STAYS, ASKED = "at PIT must stay open", "No open gap outside the wall is known at PIT"


@pytest.mark.parametrize(
    ("told", "words", "not_said"),
    [
        ({"rim": 11.5, "air_gap": "open"}, STAYS, ASKED),
        ({"rim": 11.5}, STAYS, ASKED),
        ({"air_gap": "open"}, ASKED, STAYS),
        ({"air_gap": "none"}, ASKED, STAYS),
        ({}, ASKED, STAYS),
    ],
)
def test_a_gap_is_spoken_of_as_far_as_it_is_known(told, words, not_said):
    plan, site = scenes.build(sources=[{**SUMP, **told}])
    plan = replace(plan, findings=tuple(air_gap(scene_of(plan, site))))
    page = owner_page(plan, SimpleNamespace(lines=()), None, None).decode()
    assert words in page
    assert not_said not in page
