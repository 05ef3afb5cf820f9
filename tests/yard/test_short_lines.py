"""Short lines, and what the net alone cannot show.

Whoever has a legal straight way is served, whoever has not is told how far off.
"""

from __future__ import annotations

import importlib.util
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from siteplan.books import rules
from siteplan.checks.judge import findings
from siteplan.site import heights
from siteplan.units import INCH
from siteplan.values.lines import Line, Vertex
from siteplan.values.whole_plan import Plan

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).parents[1] / "routes" / "drawn_yards.py")
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)

RISE = 0.341 * 0.3048  # m, top of the 4 in pipe over its invert
HEAVY = 0.355 * 0.3048  # and of the heavy one that lies in an outlet zone


def lawn(fall):
    return lambda x, y: 30 - fall * np.asarray(x, float) + 0 * np.asarray(y, float)


def judged(site, laid, lines=None):
    """Failures of a layout, by the checks."""
    plan = Plan(
        site_name="drawn",
        crs="local",
        length_unit="m",
        elevation_unit="m",
        accuracy=site.accuracy,
        stamp=None,
        inputs=(),
        sources=site.sources,
        outlets=laid.outlets,
        lines=laid.lines if lines is None else lines,
        low_spots=(),
        candidates=laid.candidates,
        findings=(),
        assumptions=(),
        cautions=(),
    )
    return [one for one in findings(plan, site) if one.status == "fail" and one.rule not in {"served", "numbers-agree"}]


def one(plan, outlet="O1"):
    return next(c for c in plan.candidates if c.outlet == outlet)


@pytest.mark.parametrize("length", [2.4, 3.4, 4.4])
@pytest.mark.parametrize("turned", [0.0, 27.0])
def test_a_line_wholly_inside_the_outlet_zone_is_laid(length, turned):
    """Less cover is allowed all along it: 12 % of lawn give 0.06 L by the middle, up to which it may show.

    Pipe, grade and face take 0.12 + 0.005 L.
    """
    site = yards.drawn(
        ("downspout", (20.0, 14.0)),
        ("daylight_outlet", (20.0 + length, 14.0)),
        ground=lawn(0.12),
        house=None,
        turned=turned,
    )
    plan = yards.laid_out(site)
    (line,) = [line for line in plan.lines if line.end == "O1"]
    assert yards.faults(site, plan) == []
    assert line.length == pytest.approx(length, abs=0.02)
    start = line.vertices[-1]
    assert start.ground - start.invert >= RISE - 1e-6
    assert judged(site, plan) == []
    assert one(plan).chosen


def test_a_line_of_half_a_stride_is_laid():
    """0.44 m on a bank of 3 to 5.

    Pipe 0.104 m, the face 0.015 m and 1 % of the length take 0.124 m of the 0.264 m that it falls.
    """
    site = yards.drawn(("downspout", (20.0, 14.0)), ("daylight_outlet", (20.44, 14.0)), ground=lawn(0.6), house=None)
    (line,) = yards.laid_out(site).lines
    assert (line.end, line.length) == ("O1", pytest.approx(0.44, abs=0.01))


def test_a_bend_inside_the_outlet_zone_is_laid_too():
    """Round the corner of a house, 4 m in all."""
    site = yards.drawn(
        ("downspout", (22.4, 8.4)),
        ("daylight_outlet", (19.8, 6.4)),
        ("no_dig", yards.box(20.2, 6.9, 1.6, 1.0)),
        ground=lambda x, y: 28.0 + 0.2 * np.asarray(y, float) + 0.05 * np.asarray(x, float),
    )
    plan = yards.laid_out(site)
    assert [line.end for line in plan.lines] == ["O1"]
    assert yards.faults(site, plan) == []


@pytest.mark.parametrize("high", [0.0, 0.1, 0.3])
def test_a_short_line_may_not_show_all_the_way_to_its_source(high):
    """A pop-up 1.8 m off on level lawn.

    At its source, and over the upper half, the pipe is under the ground or it is no line.
    """
    site = yards.drawn(
        ("downspout", (20.0, 14.0)),
        ("daylight_outlet", (21.8, 14.0), {"invert": 29.98 + high}),
        ground=lawn(0.0),
        house=None,
    )
    plan = yards.laid_out(site)
    assert not [line for line in plan.lines if line.end == "O1"]
    short = 29.98 + high + 0.01 * 1.8 - (30 - RISE)  # at the source, under less cover
    assert -one(plan).margin == pytest.approx(short, abs=0.006)


def test_a_checked_line_that_shows_at_its_source_fails():
    site = yards.drawn(
        ("downspout", (20.0, 14.0)), ("daylight_outlet", (21.8, 14.0), {"invert": 29.98}), ground=lawn(0.0), house=None
    )
    plan = yards.laid_out(site)
    made = Line(
        id="L1",
        sources=("S1",),
        start="S1",
        end="O1",
        pipe=yards.PIPE,
        rows=(),
        crossings=(),
        low_spots=(),
        spare=0.0,
        binding="",
        cost=0.0,
        vertices=tuple(
            Vertex(x=21.8 - s, y=14.0, station=s, invert=29.98 + 0.01 * s, ground=30.0, bend=0.0) for s in (0.0, 1.8)
        ),
    )
    assert "outlet-zone-cover" in {one.rule for one in judged(site, plan, (made,))}


def test_an_outlet_too_high_is_told_by_how_much_and_never_what_a_net_can_prove():
    site = yards.drawn(
        ("downspout", (20.0, 14.0)), ("daylight_outlet", (23.0, 14.0), {"invert": 30.2}), ground=lawn(0.02), house=None
    )
    refused = one(yards.laid_out(site))
    assert not refused.feasible
    assert refused.margin < -0.5
    assert "prove" not in refused.reason
    assert "0.00" not in refused.reason


def random_lot(seed):
    """Rough lawn, a source and an outlet of any kind somewhere, limits at random, and now and then a drive across."""
    rng = np.random.default_rng(seed)
    phase, kx, ky = rng.uniform(0, 6, 5), rng.uniform(-0.6, 0.6, 5), rng.uniform(-0.6, 0.6, 5)
    fall, height = rng.uniform(0.0, 0.09), rng.uniform(0.0, 0.08)

    def ground(x, y):
        waves = sum(np.sin(a * np.asarray(x) + b * np.asarray(y) + p) for a, b, p in zip(kx, ky, phase, strict=True))
        return 30 - fall * np.asarray(x, float) + height * waves / 2

    length = float(rng.choice([rng.uniform(1.0, 6.0), rng.uniform(6.0, 30.0)]))
    turn = rng.uniform(-0.5, 0.5)
    sx, sy = rng.uniform(3, 8), rng.uniform(10, 20)
    ox, oy = sx + length * math.cos(turn), sy + length * math.sin(turn)
    more = [("driveway", yards.box(sx + 0.55 * length, -2, 3, 34))] if rng.random() < 0.25 and length > 8 else []
    kind = str(rng.choice(["daylight_outlet", "curb_outlet"]))
    told = {} if rng.random() < 0.5 else {"invert": float(ground(ox, oy)) - float(rng.uniform(0.0, 0.5))}
    if kind == "curb_outlet" and not told:
        kind = "daylight_outlet"
    return yards.drawn(
        ("downspout", (sx, sy)),
        (kind, (ox, oy), told),
        *more,
        ground=ground,
        house=None,
        turned=float(rng.uniform(0, 90)),
        asked={"min_cover_m": float(rng.uniform(0.1, 0.35)), "outlet_zone_m": float(rng.uniform(2, 7))},
    )


def straight_lines(site, plan):
    """Straight lines of one grade from source to outlet at the control elevation, grades near the least and steeper."""
    source, outlet = site.sources[0], next(o for o in plan.outlets if o.id == "O1")
    length = math.dist((source.x, source.y), (outlet.x, outlet.y))
    for grade in (0.010001, 0.012, 0.016, 0.022, 0.03, 0.045, 0.07):
        ends = [(outlet.x, outlet.y, 0.0), (source.x, source.y, length)]
        yield Line(
            id="L1",
            sources=("S1",),
            start="S1",
            end="O1",
            pipe=yards.PIPE,
            rows=(),
            crossings=(),
            low_spots=(),
            spare=0.0,
            binding="",
            cost=0.0,
            vertices=tuple(
                Vertex(x=x, y=y, station=s, invert=outlet.control + grade * s, ground=30.0, bend=0.0)
                for x, y, s in ends
            ),
        )


@pytest.mark.parametrize("seed", range(24))
def test_whoever_has_a_legal_straight_line_is_served(seed):
    """Judged by the checks alone, with the survey taken as exact so that no doubt excuses a breach."""
    site = replace(random_lot(seed), accuracy=0.0)
    plan = yards.laid_out(site)
    legal = any(not judged(site, plan, (line,)) for line in straight_lines(site, plan))
    if legal:
        assert "S1" in yards.served(plan)
    if "S1" not in yards.served(plan):
        refused = one(plan)
        assert refused.margin is None or refused.margin < 0
    assert rules.needed(site.rules, rules.MIN_COVER) >= 3 * INCH


def short_of_straight(site, outlet):
    """What the straight line is short of past the daylight stretch, heavy pipe all along."""
    source = site.sources[0]
    length = math.dist((source.x, source.y), (outlet.x, outlet.y))
    shows = min(rules.needed(site.rules, rules.DAYLIGHT_STRETCH), length / 2)
    s = np.linspace(shows, length, 400)
    x, y = (a + (b - a) * s / length for a, b in ((outlet.x, source.x), (outlet.y, source.y)))
    cover, thin = (rules.needed(site.rules, one) for one in (rules.MIN_COVER, rules.OUTLET_ZONE_COVER))
    asked = np.where(s <= rules.needed(site.rules, rules.OUTLET_ZONE), min(thin, cover), cover) + HEAVY
    grade = rules.needed(site.rules, rules.MIN_GRADE)
    return float((outlet.control + grade * s + asked - heights(site.grid, x, y)).max())


@pytest.mark.parametrize("seed", [4, 8, 37, 38])
def test_no_more_is_told_missing_than_the_straight_way_is_short_of(seed):
    """The way over a net may ask for more than the straight one, whose ends a net does not know."""
    site = random_lot(seed)
    plan = yards.laid_out(site)
    refused, outlet = one(plan), next(o for o in plan.outlets if o.id == "O1")
    assert not site.of_kind("driveway")
    assert 0 < -refused.margin <= short_of_straight(site, outlet) + 0.01
