"""A margin that a plan states and does not hold is found, whatever of it was changed; what is stated truly is not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from siteplan.checks.margin_numbers import margin_mismatches
from siteplan.checks.scene import scene_of
from siteplan.stored.folder_of import read_plan
from siteplan.survey.folder import read_site

SAMPLES = Path(__file__).parents[2] / "sample_sites"


@pytest.fixture(scope="module", params=["alder-court", "marsh-lane"])
def stated(request, sample_plan):
    return read_plan(sample_plan(request.param).folder).plan, read_site(SAMPLES / request.param)


def found(plan, site):
    scene = scene_of(plan, site)
    return [one for walk in scene.walks.values() for one in margin_mismatches(scene, walk)]


def changed(plan, line, margin, /, **other):
    margins = tuple(replace(one, **other) if one.rule == margin else one for one in line.margins)
    return with_margins(plan, line, margins)


def with_margins(plan, line, margins):
    return replace(plan, lines=tuple(replace(one, margins=margins) if one is line else one for one in plan.lines))


def test_what_is_stated_truly_is_not_found(stated):
    assert all(line.margins for line in stated[0].lines)
    assert found(*stated) == []


def test_every_margin_that_is_not_held_is_found(stated):
    plan, site = stated
    for line in plan.lines:
        for one in line.margins:
            more = 0.0004 if one.rule == "min-grade" else 0.03
            for wrong in (one.held + more, one.held - more):
                told = found(changed(plan, line, one.rule, held=wrong), site)
                assert any(subject == line.id and one.rule in what for subject, what, *_ in told), (line.id, one.rule)


def test_every_other_word_of_a_margin_is_judged(stated):
    plan, site = stated
    for line in plan.lines:
        for one in line.margins:
            for wrong in (
                {"asked": one.asked + 0.001},
                {"short_of": "fall" if one.short_of is None else None},
                {"cost": float("nan")},
                {"rule": "max-grade"},
            ):
                assert found(changed(plan, line, one.rule, **wrong), site), (line.id, one.rule, wrong)
        assert found(with_margins(plan, line, line.margins[1:]), site)
        assert found(with_margins(plan, line, (*line.margins, line.margins[-1])), site)


def test_a_margin_said_to_lack_fall_where_there_is_fall_is_found(sample_plan):
    plan = read_plan(sample_plan("alder-court").folder).plan
    site = read_site(SAMPLES / "alder-court")
    line = max(plan.lines, key=lambda line: line.spare)
    told = found(changed(plan, line, "min-grade", held=0.0, short_of="fall"), site)
    assert any("fall to spare where min-grade lacks it" in what for _, what, *_ in told)


def test_a_margin_held_to_what_is_written_may_be_called_either(sample_plan):
    """Held to a few micrometres: figures written to one do not tell whether it is lacking, so neither word is wrong."""
    plan = read_plan(sample_plan("alder-court").folder).plan
    site = read_site(SAMPLES / "alder-court")
    line, one = next(
        (line, one)
        for line in plan.lines
        for one in line.margins
        if one.rule == "min-cover" and abs(one.held - one.asked) < 1e-3
    )
    for word in (None, "grades"):
        assert found(changed(plan, line, one.rule, held=one.asked - 3e-6, short_of=word), site) == []
    assert found(changed(plan, line, one.rule, held=one.asked - 1e-5, short_of=None), site)
    assert found(changed(plan, line, one.rule, held=one.asked + 1e-5, short_of="grades"), site)
