from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from siteplan.units import FOOT, GALLON_PER_MINUTE, INCH, RAIN
from siteplan.water.capacity import full_flow
from siteplan.water.hyetograph import Hyetograph, alternating_blocks
from siteplan.water.overflow import OverflowEntry, PitPump, quick_levels, run_flows, shares_taken
from siteplan.water.rain import MINUTE, Rainfall
from siteplan.water.sizes import upstream_first
from siteplan.water.storm import run_storm
from siteplan.water.surface import SurfaceRun, hydraulic_grade_line

GPM, INPH, FT2 = GALLON_PER_MINUTE, RAIN["in/h"], FOOT**2
BORE, N = 3.975 * INCH, 0.011
TRUNK = SurfaceRun(id="out", into=None, length=12.0, invert_up=10.15, invert_down=10.0, bore=BORE, roughness=N)
EAST = SurfaceRun(
    id="east", into="out", length=9.0, invert_up=10.30, invert_down=10.15, bore=BORE, roughness=N, loss=0.5
)
WEST = SurfaceRun(
    id="west", into="out", length=6.0, invert_up=10.25, invert_down=10.15, bore=BORE, roughness=N, loss=0.15
)
TREE = [TRUNK, EAST, WEST]
TABLE = Rainfall(
    durations=tuple(t * MINUTE for t in (5, 10, 15, 30, 60, 120)),
    intensities=tuple(rate * INPH for rate in (9.0, 7.2, 6.1, 4.2, 2.7, 1.6)),
    source="invented table",
)
STORM = alternating_blocks(TABLE, 60 * MINUTE, 5 * MINUTE)


def entries(pump=None):
    return [
        OverflowEntry(source="D1", run="east", rim=10.95, yield_area=2200 * FT2),
        OverflowEntry(source="D2", run="west", rim=10.90, yield_area=1500 * FT2),
        OverflowEntry(source="G", run="out", rim=10.45, yield_area=200 * FT2),
        OverflowEntry(
            source="S",
            run="west",
            rim=10.80,
            pump=pump or PitPump(rate=42 * GPM, volume=0.04, reserve=0.1, inflow=15 * GPM),
        ),
    ]


def test_blocks_keep_the_table_at_every_centred_length():
    depth = [rate * 5 * MINUTE for rate in STORM.intensities]
    assert STORM.depth == pytest.approx(2.7 * INPH * 60 * MINUTE)
    peak = depth.index(max(depth))
    assert peak == 5
    assert depth[peak] == pytest.approx(9.0 * INPH * 5 * MINUTE)
    assert depth[5] + depth[6] == pytest.approx(7.2 * INPH * 10 * MINUTE)
    assert sum(depth[4:7]) == pytest.approx(6.1 * INPH * 15 * MINUTE)
    assert depth[:6] == sorted(depth[:6])
    assert depth[5:] == sorted(depth[5:], reverse=True)
    assert "invented table" in STORM.source
    odd = alternating_blocks(TABLE, 25 * MINUTE, 5 * MINUTE).intensities
    assert odd.index(max(odd)) == 2


def test_blocks_that_cannot_be_made():
    single = Rainfall(durations=None, intensities=(1e-5,), source="x")
    for rain, duration, block, words in (
        (single, 3600, 300, "need a table"),
        (TABLE, 3600, 700, "no whole number"),
        (TABLE, 3600, 120, "shorter than the table"),
        (TABLE, 4 * 3600, 300, "ends before the storm"),
    ):
        with pytest.raises(ValueError, match=words):
            alternating_blocks(rain, duration, block)
    for ends, rates in (((300.0, 300.0), (1e-5, 1e-5)), ((300.0,), (-1e-5,)), ((300.0,), (math.nan,)), ((), ())):
        with pytest.raises(ValueError, match=r"rise|must be|at least one"):
            Hyetograph(ends=ends, intensities=rates, source="x")


def test_one_source_spills_just_what_the_head_cannot_push():
    run = SurfaceRun(id="a", into=None, length=20.0, invert_up=10.2, invert_down=10.0, bore=BORE, roughness=N)
    entry = OverflowEntry(source="D", run="a", rim=10.6)
    full = full_flow(BORE, 0.01, N)
    most = full * math.sqrt((10.6 - 10.0 - BORE) / 0.2)  # head from the rim to the crown at the outlet
    taken = shares_taken([run], [entry], {"D": 2 * most}, None)
    assert taken["D"] == pytest.approx(most, rel=1e-9)
    assert shares_taken([run], [entry], {"D": 0.99 * most}, None)["D"] == 0.99 * most
    drowned = shares_taken([run], [entry], {"D": 2 * most}, 10.3)["D"]
    assert drowned == pytest.approx(full * math.sqrt(0.3 / 0.2), rel=1e-9)


@settings(max_examples=30, derandomize=True, deadline=None)
@given(st.lists(st.floats(0, 0.02), min_size=4, max_size=4), st.sampled_from([None, 10.05, 10.3]))
def test_law_each_source_is_whole_or_stands_at_its_rim(demands, outside):
    sources = entries()
    demand = {entry.source: value for entry, value in zip(sources, demands, strict=True)}
    taken = shares_taken(TREE, sources, demand, outside)
    order = upstream_first({run.id: run.into for run in TREE}, 3)
    levels = quick_levels(TREE, run_flows({run.id: run for run in TREE}, order, sources, taken), outside)
    for entry in sources:
        assert taken[entry.source] <= demand[entry.source]
        assert levels[entry.run] <= entry.rim + 1e-6
        if taken[entry.source] < demand[entry.source] - 1e-8:
            assert levels[entry.run] == pytest.approx(entry.rim, abs=1e-5)


def test_others_water_comes_out_of_the_lowest_grate():
    demand = {"D1": 0.012, "D2": 0.004, "G": 0.0, "S": 0.0}
    taken = shares_taken(TREE, entries(), demand, None)
    assert taken["G"] < 0
    assert taken["D1"] == pytest.approx(0.012)


def test_quick_levels_against_the_drawn_surface():
    for gpm in (20, 60, 95, 140):
        flows = {"out": gpm * GPM, "east": 0.6 * gpm * GPM, "west": 0.4 * gpm * GPM}
        exact, quick = hydraulic_grade_line(TREE, flows, None), quick_levels(TREE, flows, None)
        for run in TREE:
            top = exact[run.id].points[-1]
            # the quick picture may not stand below the drawn level by more than a head of rapid flow
            assert top.level - 0.012 <= quick[run.id] <= top.energy + 0.012
    back = quick_levels([TRUNK], {"out": -0.004}, 10.6)["out"]
    assert back < 10.6


def imbalance(result):
    """What the balance misses, over what came in."""
    return abs(result.inflow - result.outflow - result.overflow - result.flooded - result.stored) / result.inflow


def test_storm_balance_closes_and_what_comes_out_is_named():
    result = run_storm(TREE, entries(), STORM)
    assert imbalance(result) < 1e-12
    area = 3900 * FT2
    assert result.inflow == pytest.approx(area * STORM.depth + 15 * GPM * 3600)
    assert result.outflow + result.overflow + result.stored == pytest.approx(result.inflow, rel=1e-12)
    assert result.overflow > 0
    by = {source.source: source for source in result.sources}
    assert by["G"].overflow > by["G"].inflow  # the low grate lets out the roofs' water
    assert by["G"].overflow_from is not None
    assert 20 * MINUTE <= by["G"].overflow_from <= 25 * MINUTE
    assert by["S"].starts > 10
    assert all(source.peak_level <= source.rim + 1e-6 for source in result.sources)
    assert sum(part.end - part.start for part in result.intervals) == pytest.approx(3600.0)
    for before, after in zip(result.intervals, result.intervals[1:], strict=False):
        assert before.end == after.start
    through = {run.run: run for run in result.runs}
    assert through["out"].share is not None
    assert through["out"].share > 1
    assert 20 * MINUTE <= through["out"].peak_at < 30 * MINUTE  # held down from the moment the grate spills


def test_same_storm_same_result():
    assert run_storm(TREE, entries(), STORM) == run_storm(TREE, entries(), STORM)


@settings(max_examples=25, derandomize=True, deadline=None)
@given(
    st.lists(st.floats(0, 4e-5), min_size=1, max_size=5),
    st.floats(0, 0.004),
    st.floats(1e-3, 0.005),
    st.floats(0.01, 0.1),
    st.sampled_from([None, 10.2]),
)
def test_law_the_balance_closes_to_a_billionth(rates, inflow, rate, volume, outside):
    pump = PitPump(rate=rate, volume=volume, reserve=0.05, inflow=inflow, start=volume / 3)
    storm = Hyetograph(ends=tuple(400.0 * (k + 1) for k in range(len(rates))), intensities=tuple(rates), source="law")
    result = run_storm(TREE, entries(pump), storm, outside)
    # what the pit held at the start is in the sums too: a trickle is only known to a share of that
    missed = result.inflow - result.outflow - result.overflow - result.flooded - result.stored
    assert abs(missed) <= 1e-9 * result.inflow + 1e-12 * volume
    assert result.flooded >= 0
    assert all(math.isfinite(part.outflow) for part in result.intervals)


def test_pump_rhythm_is_that_of_the_volume_balance():
    dry = Hyetograph(ends=(6 * 3600.0,), intensities=(0.0,), source="dry")
    pump = PitPump(rate=42 * GPM, volume=0.05, reserve=0.1, inflow=10 * GPM)
    result = run_storm(TREE, entries(pump), dry)
    cycle = 0.05 / (10 * GPM) + 0.05 / (32 * GPM)
    assert result.sources[3].starts == math.floor((6 * 3600 - 0.05 / (10 * GPM)) / cycle) + 1
    assert result.overflow == 0
    assert result.flooded == 0


def test_a_pump_too_small_floods_the_pit():
    dry = Hyetograph(ends=(3600.0,), intensities=(0.0,), source="dry")
    pump = PitPump(rate=10 * GPM, volume=0.05, reserve=0.1, inflow=14 * GPM)
    result = run_storm(TREE, entries(pump), dry)
    until_on = 0.05 / (14 * GPM)
    full_at = until_on + 0.1 / (4 * GPM)
    assert result.flooded == pytest.approx((3600 - full_at) * 4 * GPM, rel=1e-9)
    assert result.stored == pytest.approx(0.15)
    assert imbalance(result) < 1e-12


def test_a_pump_bigger_than_the_pipe_spills_at_its_gap():
    dry = Hyetograph(ends=(3600.0,), intensities=(0.0,), source="dry")
    pump = PitPump(rate=400 * GPM, volume=0.5, reserve=0.1, inflow=100 * GPM)
    result = run_storm([WEST_ALONE], [OverflowEntry(source="S", run="w", rim=10.3, pump=pump)], dry)
    assert result.sources[0].peak_overflow > 200 * GPM
    assert imbalance(result) < 1e-12


WEST_ALONE = SurfaceRun(id="w", into=None, length=20.0, invert_up=10.2, invert_down=10.0, bore=BORE, roughness=N)


def test_each_outlet_has_its_own_water_outside():
    other = SurfaceRun(id="free", into=None, length=20.0, invert_up=10.2, invert_down=10.0, bore=BORE, roughness=N)
    sources = [OverflowEntry(source="A", run="w", rim=10.6), OverflowEntry(source="B", run="free", rim=10.6)]
    demand = {"A": 0.02, "B": 0.02}
    taken = shares_taken([WEST_ALONE, other], sources, demand, {"w": 10.3})
    assert taken["A"] == pytest.approx(shares_taken([WEST_ALONE], sources[:1], demand, 10.3)["A"])
    assert taken["B"] == pytest.approx(shares_taken([other], sources[1:], demand, None)["B"])
    assert taken["A"] < taken["B"]
    drawn = hydraulic_grade_line([WEST_ALONE, other], {"w": 0.002, "free": 0.002}, {"w": 10.3})
    assert drawn["w"].points[0].level == pytest.approx(10.3)
    assert drawn["free"].points[0].level < 10.1
