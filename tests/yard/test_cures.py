"""What is offered for a source without a line, done to the site by somebody else and planned anew, gives it a line."""

from __future__ import annotations

import importlib.util
import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from siteplan.books import rules
from siteplan.ground.hollows import low_spots
from siteplan.routes.outlets import named_outlets
from siteplan.site import Feature
from siteplan.values.tried import CURES
from siteplan.yard.cures import attempts_of

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).parents[1] / "routes" / "drawn_yards.py")
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)


def lawn(fall):
    return lambda x, y: 30 - fall * np.asarray(x, float) + 0 * np.asarray(y, float)


def tried(site):
    plan = yards.laid_out(site)
    found = attempts_of(site, plan.outlets, low_spots(site), yards.PIPE, plan.candidates, plan.lines)
    return plan, found


def rule(site, name, limit):
    held = site.rules[name]
    return replace(site, rules={**site.rules, name: held._replace(limit=limit)})


def raised(site, cure):
    """The ground brought up to the finished heights that are told, within the width told, by a loop over all cells."""
    way, z = np.array(cure.way), site.grid.z.copy()
    for i in range(z.shape[0]):
        for j in range(z.shape[1]):
            x, y = (float(v) for v in site.grid.to_plan(np.array(float(i)), np.array(float(j))))
            near = []
            for a, b in itertools.pairwise(way):
                step = b[:2] - a[:2]
                t = min(1.0, max(0.0, float((np.array([x, y]) - a[:2]) @ step / (step @ step))))
                near.append((float(np.hypot(*(a[:2] + t * step - (x, y)))), float(a[2] + t * (b[2] - a[2]))))
            away, level = min(near)
            if away <= cure.width:
                z[i, j] = max(z[i, j], level)
    return replace(site, grid=replace(site.grid, z=z))


def done(site, attempt, cure):
    """The site as somebody would write it who does what is offered."""
    if cure.kind == "outlet-zone":
        return rule(site, rules.OUTLET_ZONE.id, cure.amount)
    if cure.kind == "min-cover":
        return rule(site, rules.MIN_COVER.id, cure.amount)
    if cure.kind == "max-depth":
        return rule(site, rules.MAX_DEPTH.id, cure.amount)
    if cure.kind == "fill":
        return raised(site, cure)
    if cure.kind == "outlet-invert":
        name = next(o.name for o in named_outlets(site) if o.id == attempt.outlet)
        features = tuple(
            replace(f, attributes={**f.attributes, "invert": cure.amount}) if f.name == name else f
            for f in site.features
        )
        return replace(site, features=features)
    import shapely

    place = Feature(
        kind="daylight_outlet",
        name="POP",
        geometry=shapely.Point(cure.x, cure.y),
        attributes={"invert": cure.invert},
        file="drawn",
        number=99,
    )
    return replace(site, features=(*site.features, place))


def yard(seed):
    rng = np.random.default_rng(400 + seed)
    phase, k = rng.uniform(0, 6, 3), rng.uniform(0.1, 0.4, 3)
    fall, height, hump = rng.uniform(0.0, 0.03), rng.uniform(0.0, 0.06), rng.choice([0.0, 0.0, 0.8])

    def ground(x, y):
        x, y = np.asarray(x, float), np.asarray(y, float)
        z = (
            30
            - fall * x
            + height * (np.sin(k[0] * x + phase[0]) * np.sin(k[1] * y + phase[1]) + np.sin(k[2] * y + phase[2]))
        )
        return z + hump * np.exp(-((x - 32) ** 2) / 8) - np.where(x > 40.2, rng_drop, 0.0)

    rng_drop = float(rng.uniform(0, 0.3))
    end = (float(rng.uniform(27, 37)), float(rng.uniform(4, 26)))
    outlet = (
        ("daylight_outlet", end, {"invert": float(ground(*end)) + float(rng.uniform(-0.2, 0.3))})
        if seed % 2
        else ("curb_outlet", (40.8, end[1]))
    )
    return yards.drawn(
        (("downspout", "sump")[seed % 3 == 0], ((22.3, 8.3), (9.7, 19.7), (22.3, 19.5))[seed % 3]),
        outlet,
        ground=ground,
    )


@pytest.mark.parametrize("seed", range(10))
def test_every_change_offered_gives_the_line_when_it_is_made(seed):
    site = yard(seed)
    plan, attempts = tried(site)
    served = yards.served(plan)
    assert {one.source for one in attempts} <= {source.id for source in site.sources} - served
    for one in attempts:
        kinds = [CURES.index(cure.kind) for cure in one.cures]
        assert kinds == sorted(set(kinds)), "in the order practice tries, each once"
        for cure in one.cures:
            if cure.kind != "lift":
                assert one.source in yards.served(yards.laid_out(done(site, one, cure))), cure.kind


def test_an_outlet_that_is_too_high_is_lowered():
    """On 12 % of lawn the cover holds the line down where the outlet zone ends.

    Lower by what is short there, no more.
    """
    fall, start, end, zone = 0.12, 20.0, 34.0, 15 * 0.3048
    strip = [(18, 12.6), (35, 12.6), (35, 15.4), (18, 15.4)]  # too narrow for another outlet
    site = yards.drawn(
        ("downspout", (start, 14.0)),
        ("daylight_outlet", (end, 14.0), {"invert": 26.4}),
        ground=lawn(fall),
        house=None,
        lot=strip,
    )
    _, attempts = tried(site)
    named = next(one for one in attempts if one.outlet == "O1")
    cure = next(cure for cure in named.cures if cure.kind == "outlet-invert")
    # ground 30 - 0.12 x 29.428 = 26.4686, less 1 ft of cover, 0.341 ft of pipe and 1 % of 15 ft: 26.0142
    assert named.short_by == pytest.approx(26.4 - 26.0142, abs=0.005)
    assert 26.0142 - 0.045 <= cure.amount <= 26.0142 + 0.005
    assert named.station == pytest.approx(zone, abs=0.1)


def test_what_bars_the_line_by_depth_is_told_with_its_limit_and_a_deeper_trench():
    def hill(x, y):
        return lawn(0.05)(x, y) + 2.0 * np.exp(-((np.asarray(x, float) - 32) ** 2) / 4)

    site = yards.drawn(
        ("downspout", (24.0, 14.0)),
        ("curb_outlet", (39.0, 14.0), {"invert": 27.5}),
        ground=hill,
        house=None,
        lot=[(20, 8), (40, 8), (40, 20), (20, 20)],
    )
    plan, attempts = tried(site)
    (reason,) = [c.reason for c in plan.candidates if c.outlet == "O1"]
    assert "no deeper than 1.372 m (rule max-depth, a default of this tool, common practice)" in reason
    cures = {cure.kind: cure for one in attempts for cure in one.cures}
    assert 1.372 < cures["max-depth"].amount <= 3.1
    assert "min-cover" not in cures


def test_a_cover_that_the_site_itself_asks_for_is_not_argued_with():
    site = yards.drawn(
        ("downspout", (20.0, 14.0)),
        ("daylight_outlet", (38.0, 14.0)),
        ground=lawn(0.02),
        house=None,
        asked={"min_cover_mm": 400},
    )
    _, attempts = tried(site)
    assert attempts
    assert not [cure for one in attempts for cure in one.cures if cure.kind == "min-cover"]


STRIP = [(18, 12.6), (42, 12.6), (42, 15.4), (18, 15.4)]  # too narrow for a way round or another outlet


def offered(site, outlet="O1"):
    _, attempts = tried(site)
    named = next(one for one in attempts if one.outlet == outlet)
    return named, {cure.kind: cure for cure in named.cures}


def test_a_dip_across_the_way_is_filled_by_what_is_short_there():
    """Flat lawn with a swale 0.2 m deep at 9 m from the curb.

    The pipe's top lies at 29.35 + 0.09 + 0.104 there, 0.256 m under its bottom.
    """
    site = yards.drawn(
        ("downspout", (20.0, 14.0)),
        ("curb_outlet", (39.0, 14.0), {"invert": 29.35}),
        ground=lambda x, y: lawn(0.0)(x, y) - 0.2 * np.exp(-((np.asarray(x, float) - 30) ** 2) / 2),
        house=None,
        lot=STRIP,
    )
    named, cures = offered(site)
    short = 0.3048 - (29.8 - (29.35 + 0.09 + 0.341 * 0.3048))
    assert named.short_by == pytest.approx(short, abs=0.002)
    assert short <= cures["fill"].amount <= short + 0.02
    assert cures["fill"].station_from < 9.0 < cures["fill"].station_to
    for cure in cures.values():
        assert cure.kind == "lift" or yards.served(yards.laid_out(done(site, named, cure))) == {"S1"}, cure.kind


def test_a_zone_that_still_leaves_the_line_short_is_not_offered():
    """7 m to the curb over level lawn: the pipe's top is 0.29 m deep where the zone ends, and 0.276 m at 6 m.

    Only a zone over all of it does.
    """
    site = yards.drawn(
        ("downspout", (20.0, 14.0)),
        ("curb_outlet", (27.0, 14.0), {"invert": 29.56}),
        ground=lawn(0.0),
        house=None,
        lot=STRIP,
    )
    named, cures = offered(site)
    assert cures["outlet-zone"].amount == pytest.approx(7.5)  # in steps of 1.5 m
    assert yards.served(yards.laid_out(done(site, named, cures["outlet-zone"]))) == {"S1"}


def test_a_pop_up_is_offered_where_the_lawn_lies_below_the_source():
    site = yards.drawn(
        ("downspout", (20.0, 14.0)), ("daylight_outlet", (34.0, 14.0), {"invert": 30.0}), ground=lawn(0.03), house=None
    )
    named, cures = offered(site)
    lid = cures["pop-up"]
    ground = 30 - 0.03 * lid.x
    assert 30 - 0.03 * 20.0 - ground == pytest.approx(lid.amount, abs=0.002)
    assert lid.amount >= 0.15 - 1e-6  # 6 in of head, as practice asks for a lid
    assert lid.invert <= ground - 0.3048 - 0.341 * 0.3048 + 1e-6  # under its cover to the end
    assert yards.served(yards.laid_out(done(site, named, lid))) == {"S1"}


@pytest.mark.parametrize("own", [False, True])
def test_less_cover_is_offered_only_where_nobody_asks_for_that_cover(own):
    """19.5 m of level lawn, 0.054 m short at the source.

    0.25 m of cover would do, and is the town's to allow where the cover is the town's.
    """
    site = yards.drawn(
        ("downspout", (20.0, 14.0)),
        ("curb_outlet", (39.5, 14.0), {"invert": 29.45}),
        ground=lawn(0.0),
        house=None,
        lot=STRIP,
        **({"asked": {"min_cover_mm": 304.8}} if own else {}),
    )
    named, cures = offered(site)
    assert named.short_by == pytest.approx(0.3048 - (30 - (29.45 + 0.195 + 0.341 * 0.3048)), abs=0.002)
    assert ("min-cover" in cures) is not own
    if not own:
        assert 0.24 <= cures["min-cover"].amount <= 0.3048 - named.short_by
        assert yards.served(yards.laid_out(done(site, named, cures["min-cover"]))) == {"S1"}
