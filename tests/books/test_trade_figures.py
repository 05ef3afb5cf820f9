"""Figures that people stake money on, each beside its source and not read from the book that is under test."""

from __future__ import annotations

import pytest

from siteplan.books import rules
from siteplan.books.hydraulics import LEAST_KB, MOST_KB, USUAL_KB
from siteplan.books.pipes import roughness_of
from siteplan.books.prices import COUPLING, DEFAULT_PRICES, PIPE_PRICES, UNLISTED_PIPE
from siteplan.books.vehicles import CONSTRUCTION, DESIGN, VEHICLES, vehicle

POUND, FOOT, INCH = 4.4482216, 0.3048, 0.0254

# wheel or dual [lbf], patch across and along the travel [in], presence
WHEELS = {
    "car": (1250, 7.0, 7.0, 1.0),  # 5000 lb on four wheels; patch from memory
    "pickup": (3000, 9.0, 8.0, 1.0),  # rear axle of 6000 lb; memory
    "skid_loader": (4000, 10.0, 8.0, 1.0),  # 8000 lb, mostly on two wheels; memory
    "axle": (10_000, 20.0, 10.0, 1.0),  # half of 20000 lb, 23 CFR 658.17; patch AASHTO LRFD 3.6.1.2.5
    "concrete_truck": (11_500, 20.0, 10.0, 1.0),  # half of a permit axle of 23000 lb; memory
    "truck": (16_000, 20.0, 10.0, 1.2),  # H-20: 16000 lb; m 1.2 for one lane, AASHTO LRFD table 3.6.1.1.2-1
}


@pytest.mark.parametrize("name", WHEELS)
def test_wheels_that_count(name):
    load, across, along, presence = WHEELS[name]
    held = vehicle(name)
    assert held.wheel == pytest.approx(load * POUND, rel=1e-6)
    assert held.width == pytest.approx(across * INCH, abs=0.05 * INCH)
    assert held.length == pytest.approx(along * INCH, abs=0.05 * INCH)
    assert held.presence == presence


def test_no_vehicle_is_left_out_and_drives_are_judged_by_the_heavier_of_their_kind():
    assert {held.id for held in VEHICLES} == set(WHEELS)
    assert DESIGN == {"car": "pickup", "truck": "truck"}
    assert set(CONSTRUCTION) == {"skid_loader", "concrete_truck"}


# practice of the trade, as the project's reference page states it (section 5 for the worked line, 6 for the rest; read
# unless noted)
LIMITS = {
    "min-grade": 0.01,  # 1 % trade floor
    "min-cover": 12 * INCH,  # lawn
    "min-cover-pavement": 18 * INCH,  # mains elsewhere than in lawn
    "curb-allowance": 0.04 * FOOT,  # section 5: outlet invert 0.04 ft above the gutter's flow line
    "bedding": 0.25 * FOOT,  # section 5
    "outlet-foundation": 10 * FOOT,  # past the backfill, 10 ft wide
    "sump-outlet-foundation": 15 * FOOT,  # 15 to 20 ft good
    "outlet-lot-line": 10 * FOOT,  # 5 or 10 ft by place; the stricter
    "foundation-backfill": 10 * FOOT,
    "cleanout-spacing": 50 * FOOT,  # Chicago 708.3
    "trench-ladder": 4 * FOOT,  # 29 CFR 1926.651(c)(2)
    "trench-protection": 5 * FOOT,  # 29 CFR 1926.652(a)(1)
    "utility-crossed": 24 * INCH,  # the wider of 18 and 24 in
    "self-cleaning": 2 * FOOT,  # a second, flowing full
    "wall-fall": 6 * INCH,  # IRC R401.3, in the first 10 ft
    "ring-deflection": 0.05,  # usual acceptance after laying: the project's page on pipe and ground
    "flotation": 1.5,  # the same page, float, sink, lift
    "belly-risk": 0.5 * INCH,  # the same page, what to flag
    # common practice, no source: held here so that none moves unseen
    "max-grade": 0.15,
    "min-cover-pavement-heavy": 12 * INCH,
    "outlet-zone": 15 * FOOT,
    "outlet-zone-cover": 0.0,
    "daylight-stretch": 7.5 * FOOT,
    "start-zone": 0.0,
    "max-depth": 4.5 * FOOT,
    "trench-width": 12 * INCH,
    "daylight-allowance": 0.05 * FOOT,
    "clear-of-building": 12 * INCH,
    "clear-of-trees": 6 * FOOT,
    "wall-crossed": 3 * FOOT,
    "lines-cross": 3 * INCH,
    "curb-concrete": 1.5 * INCH,
    "curb-hole": 4 * INCH,
    "sleeve": 1 * FOOT,
    "pump-cycle": 60.0,
    "low-spot-doubt": 2.0,
    "crossing-angle": 60.0,
}


@pytest.mark.parametrize("rule", LIMITS)
def test_default_limits(rule):
    assert rules.rule_book({})[rule].limit == pytest.approx(LIMITS[rule], rel=1e-9, abs=1e-12)


def test_who_leaves_the_limits_alone_is_told_the_trench_depths_of_the_federal_standard():
    """29 CFR 1926.651(c)(2), 1926.652(a)(1) and 1926.651(j)(2); metric by hand.

    1.219, 1.524 and 0.610 m to the safe side.
    """
    assert rules.TRENCH_DEPTHS["ft"] == ("4 ft", "5 ft", "2 ft")
    assert rules.TRENCH_DEPTHS["m"] == ("1.2 m", "1.5 m", "0.7 m")


# relative prices: common practice, no source. The order is the trade's, the figures are ours and move no plan unseen
SURCHARGES = {
    "trench": 1.0,
    "digging": 1.2,
    "deep": 4.0,
    "driveway": 10.0,
    "paving": 8.0,
    "walk": 6.0,
    "wet": 3.0,
    "roots": 5.0,
    "loose_fill": 1.5,
    "wall_side": 1.5,
    "retaining": 25.0,
    "lot_line": 0.5,
    "street": 2.0,
    "bend": 0.6,
    "odd_bend": 0.8,
    "wye": 0.8,
    "grade_break": 0.5,
    "askew": 2.0,
}


def test_prices_of_trench():
    assert DEFAULT_PRICES._asdict() == SURCHARGES


def test_prices_of_pipe():
    """A metre of 4 in pipe beside a metre of lawn trench.

    Corrugated under thin wall under sewer pipe under schedule 40.
    """
    told = {"pe_corr_single": 0.12, "pvc_thin": 0.18, "pvc_sdr35": 0.25, "pe_corr_dual": 0.28, "pvc_sch40": 0.45}
    assert told == PIPE_PRICES
    assert (UNLISTED_PIPE, COUPLING) == (0.45, 0.3)


@pytest.mark.parametrize(
    ("kind", "new", "aged"),
    [
        # new 0.010: Austin Drainage Criteria Manual table 5-2 (read); 0.013 the top of the range in Caltrans HDM table
        # 851.2 (quoted)
        ("pvc_sch40", 0.010, 0.013),
        ("pvc_sdr35", 0.010, 0.013),
        ("pvc_thin", 0.010, 0.013),
        ("pe_corr_dual", 0.010, 0.013),
        # tubing of 3 to 8 in: EP260 (memory); aged 0.022, which Caltrans gives corrugated highway pipe (read)
        ("pe_corr_single", 0.015, 0.022),
    ],
)
def test_roughness_new_and_aged(kind, new, aged):
    held = roughness_of(kind)
    assert (held.new, held.aged) == (new, aged)


def test_roughness_in_use():
    """1.0 mm for drains of lots and buildings, EN 12056-2 annex B (memory); 0.01 to 5 mm are taken.

    Common practice, no source.
    """
    assert (USUAL_KB, LEAST_KB, MOST_KB) == (1.0, 0.01, 5.0)
