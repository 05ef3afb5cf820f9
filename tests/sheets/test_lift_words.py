"""A lift in words: a lift of nothing is never printed as a figure, and one that is there is."""

from types import SimpleNamespace

import pytest

from siteplan.sheets.cure_words import cure_text
from siteplan.values.tried import Attempt, Cure


def told(lift, unit="ft"):
    cure = Cure(kind="lift", amount=lift, held=0.0, spare=None, length=20.0, cut=None)
    attempt = Attempt(source="S1", outlet="O1", short_by=0.0, station=None, cures=(cure,), tried=True)
    plan = SimpleNamespace(length_unit=unit, elevation_unit=unit, sources=[SimpleNamespace(id="S1", kind="sump")])
    return cure_text(cure, plan, attempt)


@pytest.mark.parametrize("unit", ["ft", "us-ft", "m"])
@pytest.mark.parametrize("lift", [0.0, 0.0004])
def test_a_lift_of_nothing_is_no_figure(lift, unit):
    text = told(lift, unit)
    assert "no lift to speak of, only what the pipe's friction takes" in text
    assert "of lift" not in text


def test_a_lift_that_is_there_is_told():
    assert "of lift over the start of a gravity line" in told(0.3)
    assert "no lift to speak of" not in told(0.3)
