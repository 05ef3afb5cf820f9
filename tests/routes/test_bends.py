"""Fewer and more usual bends: each change is cheaper and still lawful."""

from __future__ import annotations

import importlib.util
import itertools
import math
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from siteplan.books.practice import JOINTS_GIVE
from siteplan.books.prices import DEFAULT_PRICES
from siteplan.routes.bends import highest, neater, proven_cost
from siteplan.routes.outlets import named_outlets
from siteplan.routes.straight import STANDARD, RunTarget, turn
from siteplan.routes.terms import terms
from siteplan.routes.trace import trace
from siteplan.routes.yard import grounds_of, yard_of

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).with_name("drawn_yards.py"))
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)


def scene(*features, **more):
    site = yards.drawn(("downspout", (24.0, 20.0)), ("curb_outlet", (40.8, 5.0)), *features, house=None, **more)
    asked = terms(site.rules, yards.PIPE)
    (outlet,) = named_outlets(site)
    yard = yard_of(site, grounds_of(site, (outlet,), (), asked, DEFAULT_PRICES), asked, DEFAULT_PRICES)
    target = RunTarget(places=((outlet.x, outlet.y),), least=(outlet.control,), heading=(None,), outlet=outlet)
    return site, yard, target, asked


def turns(chain):
    return [turn(*chain[k - 1 : k + 2]) for k in range(1, len(chain) - 1)]


def improved(found, chain):
    site, yard, target, asked = found
    neat = neater(site, yard, chain, site.sources[0], target, asked, DEFAULT_PRICES)
    before, after = (proven_cost(site, yard, c, site.sources[0], target, asked, DEFAULT_PRICES) for c in (chain, neat))
    assert math.isfinite(after)
    assert after <= before + 1e-9
    return neat


def test_needless_bends_go():
    assert improved(scene(), [(24.0, 20.0), (28.0, 17.0), (33.0, 11.0), (40.8, 5.0)]) == ((24.0, 20.0), (40.8, 5.0))


def test_two_bends_a_metre_apart_become_one():
    block = [(24.5, 5.4), (32.0, 5.4), (33.0, 14.5), (24.5, 17.5)]
    chain = [(24.0, 20.0), (33.2, 15.7), (34.2, 14.3), (40.8, 5.0)]
    neat = improved(scene(("no_dig", block)), chain)
    assert len(neat) == 3
    assert LineString(neat).distance(Polygon(block)) >= 0.15


def test_odd_turns_become_standard_ones():
    block = yards.box(24.5, 5.4, 10, 12.5)
    neat = improved(scene(("no_dig", block)), [(24.0, 20.0), (35.0, 19.5), (40.8, 5.0)])
    assert all(min(abs(angle - standard) for standard in STANDARD) <= JOINTS_GIVE for angle in turns(neat))


@pytest.mark.parametrize("seed", range(6))
def test_changes_stay_lawful_on_rough_ground(seed):
    rng = np.random.default_rng(seed)
    found = scene(("no_dig", yards.box(28, 8, 3, 4)), ground=yards.rough(seed, 0.12))
    chain = [
        (24.0, 20.0),
        *sorted(((float(x), float(y)) for x, y in rng.uniform((25, 13), (38, 19), (3, 2)))),
        (40.8, 5.0),
    ]
    site, yard, target, asked = found
    if not math.isfinite(proven_cost(site, yard, chain, site.sources[0], target, asked, DEFAULT_PRICES)):
        chain = [(24.0, 20.0), (39.0, 18.0), (40.8, 5.0)]
    neat = improved(found, chain)
    assert not LineString(neat).intersects(yard.grounds.barred)


def test_an_unlawful_chain_costs_without_end():
    site, yard, target, asked = scene(("no_dig", yards.box(28, 8, 3, 8)))
    assert (
        proven_cost(
            site, yard, [(24.0, 20.0), (29.5, 12.0), (40.8, 5.0)], site.sources[0], target, asked, DEFAULT_PRICES
        )
        == math.inf
    )


def test_highest_equals_the_definition():
    site, yard, _, asked = scene(ground=yards.rough(3, 0.2))
    along = trace(
        site, yard.grounds, ((36.0, 9.0), (30.0, 14.0), (24.0, 20.0)), site.sources[0], None, asked, spacing=0.4
    )
    inverts, _ = highest(along, 0.03)
    want = [
        min(c - 0.03 * (u - s) for u, c in zip(along.station, along.ceiling, strict=True) if u >= s)
        for s in along.station
    ]
    np.testing.assert_allclose(inverts, want, atol=1e-12)
    assert all(b >= a for a, b in itertools.pairwise(inverts))
