"""Scales, paper, ticks and bearings of the drawn sheets against docs/plan-set.md, standards of paper.

Also arithmetic by hand.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

import pytest

from siteplan.plotting import profile_sheet, site_marks
from siteplan.plotting.line_marks import tick_spacing
from siteplan.plotting.paper_sizes import PAPERS, Box, fitting_scale, usual_paper
from siteplan.plotting.plan_sheet import plan_cut
from siteplan.plotting.profile_sheet import line_steepness, station_tick
from siteplan.plotting.view import View

FOOT, INCH_MM = 0.3048, 25.4
UNITS = [("ft", FOOT), ("us-ft", 1200 / 3937), ("m", 1.0)]


def test_paper_is_as_large_as_its_standard_says():
    """ISO 216:2007, A series; ANSI/ASME Y14.1, sizes A and B (memory)."""
    sizes = {one.name: (one.long, one.short) for one in PAPERS}
    assert sizes == {
        "letter": pytest.approx((279.4, 215.9)),
        "tabloid": pytest.approx((431.8, 279.4)),
        "a4": (297.0, 210.0),
        "a3": (420.0, 297.0),
    }
    assert [usual_paper(unit).name for unit, _ in UNITS] == ["letter", "letter", "a4"]


@pytest.mark.parametrize(
    ("unit", "ladder"),
    [("ft", (10 * 12, 20 * 12, 30 * 12, 40 * 12)), ("m", (100, 200, 250, 500))],  # docs/plan-set.md
)
def test_the_largest_usual_scale_is_taken_at_which_a_lot_fits(unit, ladder):
    room = Box(left=0.0, bottom=0.0, right=200.0, top=100.0)
    larger = 0
    for ratio in ladder:
        just, over = 0.2 * ratio * (1 - 1e-9), 0.2 * ratio * (1 + 1e-9)
        assert fitting_scale(just, 1.0, room, unit) == ratio
        assert fitting_scale(1.0, just / 2, room, unit) == ratio
        assert fitting_scale(0.2 * larger * (1 + 1e-9), 1.0, room, unit) == ratio
        larger = ratio
    assert fitting_scale(over, 1.0, room, unit) is None


@pytest.mark.parametrize(
    ("unit", "ratio", "figure"),
    [
        ("ft", 120, 10),  # 25.4 mm
        ("ft", 338, 10),  # 9.02 mm
        ("ft", 339, 25),
        ("ft", 846, 25),
        ("ft", 848, 50),
        ("ft", 1693, 50),
        ("ft", 1694, 100),
        ("ft", 90_000, 100),
        ("m", 555, 5),  # 9.01 mm
        ("m", 556, 10),
        ("m", 1111, 10),
        ("m", 1112, 20),
        ("m", 2222, 20),
        ("m", 2223, 50),
        ("m", 90_000, 50),
    ],
)
def test_stations_are_ticked_at_even_figures_nine_millimetres_apart_or_more(unit, ratio, figure):
    own = dict(UNITS)[unit]
    room = Box(left=0.0, bottom=0.0, right=200.0, top=100.0)
    assert tick_spacing(View(room=room, ratio=ratio, middle=(0.0, 0.0)), unit) == pytest.approx(figure * own)
    assert station_tick(SimpleNamespace(length_unit=unit), ratio) == pytest.approx(figure * own)


@pytest.mark.parametrize(
    ("unit", "usual", "ratio"),
    # an engineer's rule reads 10, 20, 30, 40 feet to the inch and 1, 2, 4, 5: feet in twelfths; ISO 5455 has 1, 2, 5
    # and tens
    [("ft", (12, 24, 48, 60, 120, 240, 360, 480), 600), ("m", (10, 20, 25, 50, 100, 200, 250, 500), 600)],
)
def test_heights_are_drawn_at_the_largest_usual_scale_at_which_they_fit(monkeypatch, unit, usual, ratio):
    """From as large as lengths to ten times as large (docs/plan-set.md); over and under a line 0.15 m are kept free."""
    paper, fall = usual_paper(unit), [0.0]
    monkeypatch.setattr(profile_sheet, "_levels", lambda *_: (0.0, fall[0]))
    line = SimpleNamespace(length=20.0, id="L1")
    of = SimpleNamespace(plan=SimpleNamespace(length_unit=unit), line=line)
    room = profile_sheet._room(paper.inside).high / 1000.0
    ladder = [one for one in usual if one * 10 >= ratio] + [ratio]
    assert len(ladder) > 3
    for one in ladder:
        fall[0] = room * one - 0.3 - 1e-6
        assert line_steepness(of, paper, ratio) == one
    fall[0] = room * ratio - 0.3 + 1e-6
    with pytest.raises(profile_sheet.InputError, match="does not fit"):
        line_steepness(of, paper, ratio)
    near = [one for one in usual if one < 100] + [100]
    for one in near:
        fall[0] = room * one - 0.3 - 1e-6
        assert line_steepness(of, paper, 100) == one


@pytest.mark.parametrize(
    ("degrees", "feet", "metres"),
    [
        (12 + 34 / 60 + 56 / 3600, "N 12\u00b034'56\" E", "12\u00b034'56\""),
        (180 - 45.5, "S 45\u00b030'00\" E", "134\u00b030'00\""),
        (180 + 7 / 60, "S 0\u00b007'00\" W", "180\u00b007'00\""),
        (300, "N 60\u00b000'00\" W", "300\u00b000'00\""),
        (360 - 0.2 / 3600, "N 0\u00b000'00\" E", "0\u00b000'00\""),
        (269 + 59 / 60 + 59.8 / 3600, "N 90\u00b000'00\" W", "270\u00b000'00\""),
    ],
)
def test_a_lot_line_bears_as_a_surveyor_writes_it(monkeypatch, degrees, feet, metres):
    monkeypatch.setattr(site_marks, "north_turn", lambda *_: 0.0)
    far = 40 * math.sin(math.radians(degrees)), 40 * math.cos(math.radians(degrees))
    texts = [
        site_marks.bearing_text(SimpleNamespace(length_unit=unit), (0.0, 0.0), far) for unit in ("ft", "us-ft", "m")
    ]
    assert texts == [feet, feet, metres]


@pytest.mark.parametrize(("across", "drawn"), [(12, True), (13, False)])
def test_a_lot_goes_on_over_a_dozen_sheets_and_no_more(monkeypatch, across, drawn):
    from siteplan.plotting import plan_sheet

    paper, ratio = usual_paper("m"), 100
    room = plan_sheet._drawing_room(paper)
    wide = (across - 0.5) * room.wide * ratio / 1000.0
    monkeypatch.setattr(plan_sheet, "_extent", lambda _: Box(left=0.0, bottom=0.0, right=wide, top=3.0))
    plan = SimpleNamespace(length_unit="m")
    if drawn:
        assert len(plan_cut(plan, paper, ratio).views) == across
    else:
        with pytest.raises(plan_sheet.InputError, match=f"{across} plan sheets at 1:100 on A4"):
            plan_cut(plan, paper, ratio)
