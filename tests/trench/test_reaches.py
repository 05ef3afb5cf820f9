"""Pipe by reach on a small invented lot: a flat slope, a house, a drive, wet ground."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from siteplan.bedding.belly import pool_depth
from siteplan.books import rules
from siteplan.books.pipes import pipe
from siteplan.books.stock import stock
from siteplan.sheets.bedding_words import bedding_words
from siteplan.site import Feature, Grid, Laying, Site, heights
from siteplan.trench.reaches import pipe_assumptions, with_pipes
from siteplan.trench.sides import wet_added
from siteplan.trench.under import bed_of, ground_along
from siteplan.units import FOOT, INCH
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Bedding
from siteplan.values.lines import Crossing, Line, Passage, Row, Vertex
from siteplan.values.water_ends import Inflows, Outlet, Source

G4 = pipe("pvc_sdr35", "4 in")
R4 = pipe("pvc_sch40", "4 in")
LENGTH = 40.0
# outside top above the invert, 4 in: the project's reference page on the trade, section 5 (read), to 0.001 ft
TOP_SEWER, TOP_HEAVY = 0.341 * FOOT, 0.355 * FOOT
PAST = 2 * FOOT  # heavy pipe past a pavement's edge: docs/pipe-and-ground.md, common practice, no source


def _grid(at, up):
    x = np.arange(-5.0, 60.5, 0.25)
    z = np.tile(np.interp(x, at, up), (81, 1))
    z.setflags(write=False)
    return Grid(
        z=z,
        cell=0.25,
        to_index=lambda px, py: ((10.0 - np.asarray(py)) / 0.25, (np.asarray(px) + 5.0) / 0.25),
        to_plan=lambda row, col: (-5.0 + np.asarray(col) * 0.25, 10.0 - np.asarray(row) * 0.25),
    )


def scene(
    *,
    cover=0.5,
    grade=0.02,
    drive=None,
    vehicle=None,
    house=True,
    wet=None,
    certain=True,
    laying=None,
    given=None,
    flow=None,
):
    """A line from x = 0 (its outlet) to x = 40 at an even cover over its own pipe.

    Dipping under ground from the outlet.
    """
    top = cover + TOP_SEWER
    at, up = [-5.0, 0.0, 3.0, 60.0], [9.9, 10.0, 10.0 + 3 * grade + top, 10.0 + 60 * grade + top]
    features = [Feature(kind="lot", name="", geometry=box(-4, -9, 59, 9), attributes={}, file="f", number=1)]
    if house:
        features.append(
            Feature(kind="building", name="House", geometry=box(LENGTH, -5, 55, 5), attributes={}, file="f", number=2)
        )
    crossings = ()
    grid = _grid(at, up)
    if drive:
        told = {"vehicle": vehicle} if vehicle else {}
        features.append(
            Feature(
                kind="driveway",
                name="Drive",
                geometry=box(drive[0], -8, drive[1], 8),
                attributes=told,
                file="f",
                number=3,
            )
        )
        crossings = (
            Crossing(
                kind="driveway",
                name="Drive",
                station_from=drive[0],
                station_to=drive[1],
                angle=90.0,
                cover_from=cover,
                cover_to=cover,
                cover_min=cover,
            ),
        )
    source = Source(
        id="S1",
        kind="downspout",
        name="DS",
        x=LENGTH,
        y=0.0,
        ground=float(heights(grid, np.array([LENGTH]), np.array([0.0]))[0]),
    )
    site = Site(
        name="scene",
        crs="local",
        length_unit="ft",
        elevation_unit="ft",
        accuracy=0.01,
        grid=grid,
        features=tuple(features),
        sources=(source,),
        rules=rules.rule_book(given or {}),
        rainfall=None,
        inputs=(),
        laying=laying or Laying(),
    )
    spots = ()
    passages = ()
    if wet:
        ring = tuple(box(wet[0], -5, wet[1], 5).exterior.coords)
        spots = (
            LowSpot(
                id="LS1",
                kind="wet_area",
                depth=0.0,
                area=1.0,
                volume=0.0,
                spill_elevation=None,
                spill=None,
                catchment=None,
                certain=certain,
                rings=(ring,),
            ),
        )
        passages = (Passage(id="LS1", station_from=wet[0], station_to=wet[1]),)
    stations = np.array([0.0, 20.0, LENGTH])
    inverts = 10.0 + grade * stations
    ground = heights(grid, stations, np.zeros(3))
    line = Line(
        id="L1",
        sources=("S1",),
        start="S1",
        end="O1",
        pipe=G4,
        spare=0.1,
        binding="",
        cost=1.0,
        crossings=crossings,
        low_spots=passages,
        vertices=tuple(
            Vertex(x=s, y=0.0, station=s, invert=z, ground=g) for s, z, g in zip(stations, inverts, ground, strict=True)
        ),
        rows=tuple(
            Row(station=s, x=s, y=0.0, ground=g, invert=z, cut=g - z + 0.08, cover=g - z - TOP_SEWER, grade=grade)
            for s, z, g in zip(stations, inverts, ground, strict=True)
        ),
    )
    inflows = Inflows(flows=() if flow is None else (("S1", flow),))
    outlet = Outlet(id="O1", kind="daylight_outlet", name="OUT", x=0.0, y=0.0, ground=10.0, control=9.9, basis="")
    (laid,) = with_pipes((line,), site, inflows, spots, (outlet,))
    return laid, site, spots


def _at(line, station):
    return next(reach for reach in line.reaches if reach.station_from <= station < reach.station_to)


def test_reaches_follow_one_another_from_end_to_end():
    line, _, _ = scene(drive=(15.0, 20.0), wet=(25.0, 30.0))
    assert line.reaches[0].station_from == 0
    assert line.reaches[-1].station_to == LENGTH
    for below, above in zip(line.reaches, line.reaches[1:], strict=False):
        assert below.station_to == above.station_from
        changes = below.pipe.kind != above.pipe.kind
        assert bool(below.coupling) == changes
    assert [reach.place for reach in line.reaches] == [
        "outlet zone",
        "lawn",
        "pavement",
        "lawn",
        "wet ground",
        "lawn",
        "house backfill",
    ]


def test_deep_enough_under_cars_the_lines_own_pipe_is_kept():
    line, _, _ = scene(cover=0.60, drive=(15.0, 20.0))
    reach = _at(line, 17.0)
    assert reach.pipe == G4
    assert reach.why == "the line's own pipe passes"
    assert {choice.kind for choice in reach.choices if choice.passes} >= {"pvc_sdr35", "pvc_sch40", "pe_corr_dual"}


def test_short_of_the_pavement_cover_heavy_pipe_goes_past_both_edges():
    line, _, _ = scene(cover=0.40, drive=(15.0, 20.0))
    reach = _at(line, 17.0)
    assert reach.pipe == R4
    assert reach.station_from == pytest.approx(15.0 - PAST)
    assert reach.station_to == pytest.approx(20.0 + PAST)
    assert reach.cover_min == pytest.approx(0.40 + TOP_SEWER - TOP_HEAVY, abs=0.001 * FOOT)  # 15.6 in
    assert "SDR 35 PVC does not do: 15.7 in of cover under the pavement, 18.0 in asked" in reach.why  # 0.40 m
    refused = {choice.kind: choice.why for choice in reach.choices if not choice.passes}
    assert {"pe_corr_single", "pe_corr_dual", "pvc_thin", "pvc_sdr35"} == set(refused)
    assert _at(line, 10.0).coupling == (
        "adapter coupling schedule 40 PVC to SDR 35 PVC, outside 4.500 in to 4.215 in; bores 4.026 in and "
        "3.975 in, inverts level"
    )
    row = next(row for row in line.rows if row.station == pytest.approx(20.0 + PAST))
    assert row.note == "pipe changes: schedule 40 PVC downstream, SDR 35 PVC upstream"
    assert row.cover == pytest.approx(0.40, abs=0.0005 * FOOT)  # as the scene lays it, the lighter pipe begins here
    crossing = line.crossings[0]
    for cover in (crossing.cover_from, crossing.cover_to, crossing.cover_min):
        assert cover == pytest.approx(0.40 + TOP_SEWER - TOP_HEAVY, abs=0.001 * FOOT)


def test_the_least_cover_of_a_reach_counts_its_own_ends():
    """Cover grows by a fifth of a metre each metre from the outlet up: the least of a reach is at its lower end."""
    line, site, _ = scene(cover=0.5, drive=(1.0, 2.37))
    at, up = zip(*((vertex.station, vertex.invert) for vertex in line.vertices), strict=True)
    assert len(line.reaches) > 1
    for reach in line.reaches:
        s = np.linspace(reach.station_from, reach.station_to, 2001)
        over = heights(site.grid, s, np.zeros_like(s)) - np.interp(s, at, up)
        assert reach.cover_min == pytest.approx(float(over.min()) - reach.pipe.rise, abs=0.0005)


def test_the_surveys_doubt_does_not_leave_light_pipe_under_wheels():
    near = 18 * INCH + 0.005
    line, _, _ = scene(cover=near, drive=(15.0, 20.0))
    assert _at(line, 17.0).pipe == R4
    assert "of doubt" in _at(line, 17.0).why


def test_a_site_whose_own_limit_gives_no_relief_is_told_that_nothing_passes():
    line, _, _ = scene(cover=0.40, drive=(15.0, 20.0), given={"min_cover_pavement_in": 24})
    reach = _at(line, 17.0)
    assert reach.why.startswith("no kind passes all tests")
    assert not any(choice.passes for choice in reach.choices)


def test_trucks_get_a_sleeve_that_the_coupling_passes_or_stone():
    line, _, _ = scene(cover=0.75, drive=(15.0, 20.0), vehicle="truck")
    reach = _at(line, 17.0)
    assert reach.vehicle == "truck"
    assert reach.sleeve is not None
    assert reach.sleeve.pipe.nominal == "6 in"
    assert reach.sleeve.length == pytest.approx(5.0 + 2 * FOOT)
    assert reach.sleeve.play > 0
    assert "6 in" in line.crossings[0].sleeve
    thin, _, _ = scene(cover=0.32, drive=(15.0, 20.0), vehicle="truck")
    assert _at(thin, 17.0).sleeve is None
    assert thin.crossings[0].sleeve is None
    assert _at(thin, 17.0).bedding is Bedding.STONE_SIDES


def test_what_a_ring_would_change_by_in_stone_too_is_told():
    """By hand, 0.25 m = 0.820 ft of cover on 4 in SDR 35 under a design truck.

    Patch (20/12 + 0.943 + 0.06 x 0.331)(10/12 + 0.943) ft = 4.67 ft2, impact 0.33 (1 - 0.125 x 0.820) = 0.296, so 16
    000 lb x 1.2 x 1.296 press 37.0 psi (AASHTO LRFD 3.6.1.2, memory); soil 1.5 x
    120 x 0.820 psf = 1.03 psi; 0.1 (1.03 + 37.0) / (0.149 x 46 + 0.061 x 1000) = 5.6 % (modified Iowa formula,
    Moser, eq. 3.4)."""
    line, _, _ = scene(cover=0.25, drive=(15.0, 20.0), vehicle="truck")
    told = {one.kind: one.why for one in _at(line, 17.0).choices}
    assert "ring would change 5.6 % in compacted stone too (H-20 design truck, wheel 16000 lb)" in told["pvc_sdr35"]


def test_outlet_zone_is_heavy_where_cover_is_thin():
    line, _, _ = scene()
    first = line.reaches[0]
    assert (first.place, first.pipe) == ("outlet zone", R4)
    assert "heavy pipe only" in first.why


@pytest.mark.parametrize(
    ("zone", "wet"),
    [
        (LENGTH - 0.15, None),  # a sliver between the outlet's zone and the source
        (20.0, (20.15, 26.0)),  # one between the outlet's zone and wet ground, where either is heavy pipe
        (20.0, (20.15, 20.30)),  # slivers one after another
    ],
)
def test_a_sliver_past_the_outlet_zone_keeps_its_cover(zone, wet):
    """Heavy pipe stands 4 mm higher: a sliver of lawn takes its neighbour's pipe only where 12 in stay over it."""
    least = 12 * INCH
    line, site, _ = scene(cover=least + 0.002, house=False, wet=wet, given={"outlet_zone_ft": zone / FOOT})
    assert line.reaches[0].pipe == R4
    end = 20.15 if wet else LENGTH
    for station in np.linspace(zone + 1e-4, end - 1e-4, 7):
        over = float(heights(site.grid, np.array([station]), np.zeros(1))[0]) - line.at(station)[2]
        assert over - line.pipe_at(station).rise >= least - 0.0005
    for row in line.rows:
        if zone <= row.station <= end:
            assert row.cover >= least - 0.0005
    roomy, _, _ = scene(cover=least + 0.02, house=False, wet=wet, given={"outlet_zone_ft": zone / FOOT})
    assert roomy.pipe_at((zone + end) / 2) == R4  # nobody cuts a piece of half a foot in without need


def test_wet_ground_gets_stone_and_only_where_the_survey_is_sure():
    line, _, _ = scene(wet=(25.0, 30.0))
    assert bedding_words(_at(line, 27.0), "ft").startswith("over-dig 8.4 in or more, tamped stone")
    unsure, _, _ = scene(wet=(25.0, 30.0), certain=False)
    assert _at(unsure, 27.0).place == "lawn"
    assert any("shallower than the survey can tell" in one.what for one in unsure.soft)


def test_fresh_fill_round_the_house_is_a_risk_and_settled_fill_is_none():
    settled, site, _ = scene(grade=0.01)
    fresh, told, _ = scene(grade=0.01, laying=Laying(backfill="fresh"))
    assert not settled.belly.risk
    assert fresh.belly.risk
    assert fresh.belly.depth[2] > 20 * settled.belly.depth[2]
    assert fresh.belly.mends
    assert any("taken as settled" in note for note in pipe_assumptions(site, (settled,)))
    assert any("taken as fresh" in note for note in pipe_assumptions(told, (fresh,)))


@pytest.mark.parametrize(("size", "least"), [("4 in", 0.3975), ("6 in", 0.5), ("8 in", 0.5)])
def test_water_may_stand_half_an_inch_deep_or_a_tenth_of_the_bore(size, least):
    """The project's page on pipe and ground, what to flag; SDR 35 has bores of 3.975, 5.915 and 7.92 in."""
    usual, own = (rules.limit(rules.rule_book(told), rules.BELLY_RISK) for told in ({}, {"belly_risk_in": 0.25}))
    assert pool_depth(stock("pvc_sdr35", size), usual) / INCH == pytest.approx(least)
    assert pool_depth(stock("pvc_sdr35", size), own) / INCH == pytest.approx(0.25)


def test_forecast_is_on_the_ground_that_the_line_states():
    line, site, _ = scene(wet=(25.0, 30.0))
    wet, fill = line.soft
    assert (wet.what, wet.station_from, wet.station_to) == ("wet ground LS1", 25.0, 30.0)
    assert fill.what == "house backfill"
    # the house stands at x = 40, its backfill is 10 ft wide (rule foundation-backfill)
    assert (fill.station_from, fill.station_to) == (pytest.approx(LENGTH - 10 * FOOT, abs=0.05), LENGTH)
    bed = bed_of(line, ground_along(line, site))
    assert bed.ends == ("free", "fixed")
    low, likely, high = line.belly.depth
    assert 0 <= low <= likely <= high


def test_the_bed_of_stated_rows_is_that_of_the_ground():
    """Rows state cover over the heavy pipe that lies there.

    A forecast asks for that over the line's own, whoever asks.
    """
    line, site, _ = scene(cover=0.40, drive=(6.2, 9.0), wet=(25.0, 30.0))
    assert any(line.pipe_at(row.station).rise > line.pipe.rise + 0.004 for row in line.rows)
    ground = [float(heights(site.grid, np.array([row.x]), np.array([row.y]))[0]) for row in line.rows]
    rows = {row.station: over - row.invert - TOP_SEWER for row, over in zip(line.rows, ground, strict=True)}
    told = dict(bed_of(line).covers)
    assert set(told) >= set(rows)
    for station, cover in rows.items():
        assert told[station] == pytest.approx(cover, abs=0.001)


def test_a_short_stretch_between_heavy_reaches_stays_heavy_where_couplings_cost_more():
    line, _, _ = scene(cover=0.40, drive=(6.2, 9.0))
    between = [reach for reach in line.reaches if reach.station_to <= 9.0 + PAST + 1e-6]
    assert {reach.pipe.kind for reach in between} == {"pvc_sch40"}
    dear, _, _ = scene(cover=0.40, drive=(6.2, 9.0), laying=Laying(coupling=0.0))
    assert len({reach.pipe.kind for reach in dear.reaches if reach.station_to <= 9.0 + PAST + 1e-6}) == 2


def test_prices_rank_what_passes():
    line, _, _ = scene(cover=0.60)
    ranked = [choice.kind for choice in _at(line, 20.0).choices if choice.passes]
    costs = [choice.cost for choice in _at(line, 20.0).choices if choice.passes]
    assert costs == sorted(costs)
    assert ranked[0] == "pe_corr_single"
    prices = {"pvc_sdr35": 0.25, "pvc_sch40": 0.01, "pe_corr_single": 0.12}
    cheap, _, _ = scene(cover=0.60, laying=Laying(pipe_prices=prices))
    assert _at(cheap, 20.0).choices[0].kind == "pvc_sch40"


def test_a_rough_pipe_that_carries_less_than_the_flow_is_refused():
    line, _, _ = scene(cover=0.60, grade=0.01, flow=0.0050)
    refused = {choice.kind: choice.why for choice in _at(line, 20.0).choices if not choice.passes}
    assert set(refused) == {"pe_corr_single"}
    assert "of the design flow" in refused["pe_corr_single"]


def test_notes_tell_forces_beside_the_soil_and_machines_as_a_case_of_their_own():
    line, _, _ = scene()
    told = " ".join(line.ground_notes)
    assert "lbf/ft" in told
    assert "% of the load on the bed" in told
    assert "Machines on the open trench: loaded skid loader" in told
    assert "Depth of frost is not known" in told
    cold, _, _ = scene(laying=Laying(frost=1.0))
    assert any("above frost (3.3 ft)" in note for note in cold.ground_notes)


def test_same_input_same_reaches():
    one, two = scene(drive=(15.0, 20.0), wet=(25.0, 30.0))[0], scene(drive=(15.0, 20.0), wet=(25.0, 30.0))[0]
    assert one == two
    assert replace(one, reaches=()).pipe_at(17.0) == G4
    assert one.pipe_at(17.0) == _at(one, 17.0).pipe


def test_pipe_is_priced_by_the_square_of_its_outside():
    """0.45 over 0.25 times (4.5 / 4.215)^2 is 2.052; thin wall has the sewer pipe's outside: 0.18 / 0.25.

    Common practice, no source.
    """
    line, _, _ = scene(cover=0.60)
    cost = {choice.kind: choice.cost for choice in _at(line, 20.0).choices}
    assert cost["pvc_sdr35"] == 1.0
    assert cost["pvc_sch40"] == pytest.approx(2.052, abs=0.001)
    assert cost["pvc_thin"] == pytest.approx(0.72, abs=0.001)


def test_wet_ground_to_try_has_six_inches_of_churned_soil_at_worst():
    """6 in churned: common practice, no source. Dumped refill settles 10 % at worst (geotechnical practice, memory).

    0.6 in.
    """
    line, _, _ = scene()
    tried = next(one for one in wet_added(line, 10.0, 12.0).soft if one.what == "wet ground to try")
    assert tried.loose == pytest.approx(6 * INCH)
    assert tried.drop == pytest.approx((0.0, 0.1 * INCH, 0.6 * INCH))
