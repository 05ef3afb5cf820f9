from __future__ import annotations

import math

import pytest

from siteplan.units import FOOT, GALLON_PER_MINUTE, INCH
from siteplan.water.pump import (
    inflow_from_refill,
    pit_volume,
    pump_cycle,
    pumped_friction,
    shortest_cycle,
    working_rate,
)
from siteplan.water.section import GRAVITY
from siteplan.water.sump import pit_troubles, sump_troubles

GPM = GALLON_PER_MINUTE
GOOD = {
    "rate": 42 * GPM, "line_capacity": 122 * GPM, "air_gap_rim": 99.85 * FOOT, "outlet_level": 97.35 * FOOT,
    "wall_ground": 99.60 * FOOT, "outlet_ground": 97.30 * FOOT, "outlet_distance": 60 * FOOT,
}  # fmt: skip


def rules(**changes):
    return [trouble.rule for trouble in sump_troubles("S1", **{**GOOD, **changes})]


def test_story_s3_the_good_outlet_is_clean():
    assert rules() == []


def test_story_s3_trap_1_the_old_popup_feeds_the_footing():
    found = sump_troubles(
        "S1", **{**GOOD, "outlet_level": 99.72 * FOOT, "outlet_ground": 99.72 * FOOT, "outlet_distance": 6 * FOOT}
    )
    assert [trouble.rule for trouble in found] == ["sump-outlet-foundation", "sump-way-back"]
    assert "6.0 ft from the foundation, 15.0 ft wanted" in found[0].message
    assert "0.12 ft (0'-1 1/2\") above the ground at the wall" in found[1].message
    assert {trouble.status for trouble in found} == {"fail"}


def test_each_rule_broken_alone():
    assert rules(rate=123 * GPM) == ["pump-fits"]
    assert rules(air_gap_rim=None) == ["air-gap"]
    assert rules(outlet_level=99.85 * FOOT) == ["tail-water"]
    assert rules(outlet_distance=14 * FOOT) == ["sump-outlet-foundation"]
    assert rules(outlet_ground=99.60 * FOOT) == ["sump-way-back"]
    assert rules(outlet_ground=99.30 * FOOT) == ["wall-fall"]
    assert rules(outlet_ground=99.10 * FOOT) == []  # 6 in in 10 ft, just
    assert rules(pump_bore=1.61 * INCH, pipe_bore=1.5 * INCH) == ["pump-pipe"]
    assert rules(outlet_distance=14 * FOOT, least_distance=10 * FOOT) == []


def test_pump_bigger_than_the_line_says_how_to_mend():
    message = sump_troubles("S1", **{**GOOD, "rate": 150 * GPM})[0].message
    assert message == (
        "S1: the pump gives 150.0 gpm and the line carries 122.0 gpm: it spills at the air gap each time it runs. "
        "Take a larger line, more grade, or a smaller pump."
    )


def test_cycle_by_volume_balance():
    volume = pit_volume(18 * INCH, 8 * INCH)
    assert volume == pytest.approx(math.pi / 4 * (18 * INCH) ** 2 * 8 * INCH)
    inflow = inflow_from_refill(volume, 130.0)  # story S3: refills every 130 s
    cycle = pump_cycle(volume, inflow, 42 * GPM)
    assert cycle.off == pytest.approx(130.0)
    assert cycle.on is not None
    assert cycle.on * 42 * GPM == pytest.approx(cycle.whole * inflow)
    assert pump_cycle(volume, 0.0, 42 * GPM).off is None
    drowned = pump_cycle(volume, 50 * GPM, 42 * GPM)
    assert drowned.on is None
    assert drowned.whole is None


def test_no_inflow_cycles_faster_than_half_the_rate():
    shortest = shortest_cycle(0.05, 0.003)
    cycles = [pump_cycle(0.05, 0.003 * place / 100, 0.003).whole for place in range(1, 100)]
    assert min(cycles) == pytest.approx(shortest)  # type: ignore[type-var]
    assert cycles.index(min(cycles)) == 49  # type: ignore[type-var]


def test_pit_size_and_starts():
    assert pit_troubles("S1", 18 * INCH, 24 * INCH) == ()
    small = pit_troubles("S1", 15 * INCH, 24 * INCH, rise=4 * INCH, rate=42 * GPM)
    assert [trouble.rule for trouble in small] == ["pit-size", "pump-cycle"]
    assert "codes ask 1.50 ft by 2.00 ft" in small[0].message
    assert pit_troubles("S1", 18 * INCH, 24 * INCH, rise=10 * INCH, rate=42 * GPM) == ()


def test_working_rate_meets_curve_and_system():
    curve = [(0.0, 7.0), (0.002, 5.5), (0.004, 2.0)]
    rate = working_rate(curve, 2.5, 8.0, 0.040894, fittings=6.0)
    assert rate is not None
    assert 0.002 < rate < 0.004
    on_curve = 5.5 - 3.5 * (rate - 0.002) / 0.002
    velocity = rate / (math.pi * 0.040894**2 / 4)
    system = 2.5 + 8.0 * pumped_friction(rate, 0.040894) + 6 * velocity**2 / (2 * GRAVITY)
    assert on_curve == pytest.approx(system, rel=1e-9)
    higher = working_rate(curve, 4.0, 8.0, 0.040894, fittings=6.0)
    assert higher is not None
    assert higher < rate
    assert working_rate(curve, 7.0, 8.0, 0.04) is None
    assert working_rate(curve, 0.0, 0.0, 0.5) == 0.004
    with pytest.raises(ValueError, match="does not fall"):
        working_rate([(0.0, 5.0), (0.002, 6.0)], 2.5, 8.0, 0.04)
    with pytest.raises(ValueError, match="fewer than two points"):
        working_rate([(0.0, 5.0)], 2.5, 8.0, 0.04)
