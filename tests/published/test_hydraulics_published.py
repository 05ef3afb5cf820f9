"""Check values of hydraulics from outside the project, each row with its source and standing in hydraulics.csv.

A row whose calculation is `none` is a policy fact of another room; its note says why it is not computed.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

from siteplan.books import rules
from siteplan.books.hydraulics import code_tables, runoff_of
from siteplan.books.pipes import pipe, roughness_of, sizes
from siteplan.checks.pipe_flow import by_friction, flow_at, full_flow_anew, leader, speed_at
from siteplan.units import FOOT, GALLON_PER_MINUTE, GRADE, INCH, LITRE, MILLIMETRE, RAIN
from siteplan.water import capacity, curb, inflow, links, run_flow, section, steps
from siteplan.water import sizes as sizing
from siteplan.water.colebrook import flow_part_full
from siteplan.water.hyetograph import alternating_blocks
from siteplan.water.rain import MINUTE, Rainfall, read_rain
from siteplan.water.surface import SurfaceRun, hydraulic_grade_line

HERE = Path(__file__).parent
ROWS = list(csv.DictReader((HERE / "hydraulics.csv").read_text(encoding="utf-8").splitlines()))
CHANNEL = section.Trapezoid(bottom=20 * FOOT, side=2.0)
CHANNEL_FLOW = 400 * FOOT**3
GPM, FT2 = GALLON_PER_MINUTE, FOOT**2


def _inputs(text: str) -> dict[str, str]:
    return dict(part.split("=", 1) for part in text.split(";")) if text else {}


def _slope(text: str) -> float:
    return float(Fraction(text)) * GRADE["in_per_ft"]


def _rain(a: dict[str, str]) -> float:
    area = {"area_ft2": FT2, "area_acre": 43560 * FT2, "area_m2": 1.0}
    rate = {"i_inph": RAIN["in/h"], "i_mmph": RAIN["mm/h"]}
    ground = next(float(a[key]) * unit for key, unit in area.items() if key in a)
    return inflow.runoff(ground, next(float(a[key]) * unit for key, unit in rate.items() if key in a))


def _bore(a: dict[str, str]) -> float:
    return float(a["D_in"]) * INCH


def _table(a: dict[str, str]) -> float:
    offered = next(entry for entry in sizes("pvc_sch40") if entry.nominal == f"{a['size_in']} in")
    found = sizing.capacity_by(sizing.Basis(code=a["code"]), offered, _slope(a["slope"])).flow
    assert found is not None
    return found / GPM


def _ipc(a: dict[str, str]) -> float:
    assert _table({**a, "code": "ipc-2018"}) == pytest.approx(float(a["printed"]))
    bore = pipe("pvc_sch40", f"{a['size_in']} in").bore
    return capacity.full_flow(bore, _slope(a["slope"]), 0.010) / GPM


def _ipc_odd(a: dict[str, str]) -> float:
    row = next(row for row in code_tables()[0].rows if row.size_in == 5 and math.isclose(row.grade, _slope(a["slope"])))
    assert row.suspect
    by_rule = capacity.full_flow(5.047 * INCH, _slope(a["slope"]), 0.010)
    assert row.flow / by_rule < 0.80  # every other size of the table is within 2 %
    return row.flow / GPM


def _upc(a: dict[str, str]) -> float:
    assert _table({**a, "code": "upc"}) == pytest.approx(float(a["printed"]))
    return capacity.full_flow(float(a["size_in"]) * INCH, _slope(a["slope"]), 0.015) / GPM


def _kb(a: dict[str, str], flow: Callable[[float, float, float, float], float]) -> float:
    bore, kb = float(a["D_mm"]) * MILLIMETRE, float(a["kb_mm"]) * MILLIMETRE
    return flow(bore, float(Fraction(a["S"])), kb, float(a["y_D"])) / LITRE


def _kinder_n(a: dict[str, str]) -> float:
    """What the default n gives over what a printed European figure is."""
    offered = sizes("pvc_metric")[0]
    full = capacity.full_flow(float(a["D_mm"]) * MILLIMETRE, float(Fraction(a["S"])), offered.roughness)
    return capacity.part_full(float(a["y_D"])).flow * full / (float(a["printed_lps"]) * LITRE)


def _c_range(a: dict[str, str]) -> str:
    entry = runoff_of(a["cover"])
    assert entry.default >= entry.high  # the taken value is never kinder than the range
    return f"{entry.low:.2f}-{entry.high:.2f}"


def _grade_where(velocity: Callable[[float], float], wanted: float) -> float:
    low, high = 1e-6, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if velocity(middle) < wanted else (low, middle)
    return high


def _top_velocity_local(a: dict[str, str]) -> float:
    limit = float(a["limit_mps"])
    fast = run_flow.run_water(0.006, 0.1, 0.10, 0.011)
    slow = run_flow.run_water(0.006, 0.1, 0.01, 0.011)
    assert fast.velocity is not None
    assert slow.velocity is not None
    assert slow.velocity < limit < fast.velocity
    return limit


def _code_floor(a: dict[str, str]) -> float:
    offered = pipe("pvc_sch40", f"{a['size_in']} in")
    flow = sizing.capacity_by(sizing.Basis(code="ipc-2018"), offered, float(a["grade"]) / 100).flow
    assert flow is not None
    return flow / GPM


def _no_pump_rate(_: dict[str, str]) -> str:
    answer = inflow.pump_inflow("S1", None)
    assert answer.flow is None
    assert "no code supplies one" in answer.statement
    return "none"


def _gutter_bound(a: dict[str, str]) -> float:
    depth, bore = float(a["depth_in"]) * INCH, pipe().bore
    link = links.submerged_outlet("L1", 0.04 * FOOT, bore, depth)
    assert link.statement.startswith("drowned")
    assert link.tail_water is not None
    return link.tail_water / INCH


def _table_shape(a: dict[str, str]) -> str:
    minutes = [float(text) for text in a["minutes"].split(",")]
    rates = [1e-5 * t**-0.7 for t in minutes]
    rain = Rainfall(durations=tuple(t * MINUTE for t in minutes), intensities=tuple(rates), source="shape")
    back = [read_rain(rain, t * MINUTE).intensity for t in minutes]
    assert back == pytest.approx(rates, rel=1e-12)
    return str(len(minutes))


def _exit_loss(_: dict[str, str]) -> float:
    run = SurfaceRun(id="r", into=None, length=10.0, invert_up=0.1, invert_down=0.0, bore=0.1, roughness=0.011)
    end = hydraulic_grade_line([run], {"r": 0.005}, 0.3)["r"].points[0]
    return (end.energy - 0.3) / (end.velocity**2 / (2 * section.GRAVITY))


def _full(a: dict[str, str]) -> float:
    return capacity.full_flow(_bore(a), float(a["S_pct"]) / 100, float(a["n"]))


def _normal(a: dict[str, str]) -> float:
    depth = capacity.normal_depth(float(a["Q_gpm"]) * GPM, _bore(a), float(a["S_pct"]) / 100, float(a["n"]))
    assert depth is not None
    return depth


def _surcharge(a: dict[str, str]) -> float:
    length, grade = float(a["L_ft"]) * FOOT, float(a["S_pct"]) / 100
    run = SurfaceRun(
        id="r",
        into=None,
        length=length,
        invert_up=length * grade,
        invert_down=0.0,
        bore=_bore(a),
        roughness=float(a["n"]),
    )
    top = hydraulic_grade_line([run], {"r": float(a["Q_gpm"]) * GPM}, None)["r"].points[-1]
    return (top.level - top.crown) / FOOT


def _block(a: dict[str, str]) -> float:
    minutes = [10.0 * place for place in range(1, 13)]
    rates = tuple(96.6 / (t**0.97 + 13.90) * RAIN["in/h"] for t in minutes)
    rain = Rainfall(durations=tuple(t * MINUTE for t in minutes), intensities=rates, source="example")
    storm = alternating_blocks(rain, 120 * MINUTE, 10 * MINUTE)
    return storm.intensities[int(a["place"]) - 1] * 10 * MINUTE / INCH


def _fastest(of: str) -> float:
    """Of the ratios that a plan's velocities come from, looked at over every depth."""
    fastest = max((capacity.part_full(place / 20000) for place in range(1, 20001)), key=lambda one: one.velocity)
    return getattr(fastest, of)


CALCULATIONS: dict[str, Callable[[dict[str, str]], float | str]] = {
    "rain_gpm": lambda a: _rain(a) / GPM,
    "rain_cfs": lambda a: _rain(a) / FOOT**3,
    "rain_lps": lambda a: _rain(a) / LITRE,
    "rain_area": lambda a: GPM / inflow.runoff(1.0, float(a["i_inph"]) * RAIN["in/h"]) / FT2,
    # a pipe of 4 ft bore has a hydraulic radius of 1 ft
    "manning_us": lambda _: capacity.full_velocity(4 * FOOT, 1.0, 1.0) / FOOT,
    "full_us": lambda _: capacity.full_flow(FOOT, 1.0, 1.0) / FOOT**3,
    "c_range": _c_range,
    "c_default": lambda a: runoff_of(a["cover"]).default,
    "c_factor": lambda a: inflow.runoff(50.0, 1e-5, float(a["c"])) / inflow.runoff(50.0, 1e-5),
    "ipc": _ipc,
    "ipc_odd": _ipc_odd,
    "upc": _upc,
    "code": _table,
    "kb_flow": lambda a: _kb(a, flow_part_full),
    "kb_flow_again": lambda a: _kb(a, lambda d, s, kb, y: by_friction(kb, d, s, y * d)),
    "kinder_n": _kinder_n,
    "leader": lambda a: links.leader_flow(float(a["size_in"]) * INCH, float(Fraction(a["ring"]))) / GPM,
    "n_range": lambda a: f"{roughness_of(a['kind']).low:.3f}-{roughness_of(a['kind']).high:.3f}",
    "n_new": lambda a: roughness_of(a["kind"]).new,
    "n_aged": lambda a: roughness_of(a["kind"]).aged,
    "n_high": lambda a: roughness_of(a["kind"]).high,
    "n_within": lambda a: min(max(float(a["value"]), roughness_of(a["kind"]).low), roughness_of(a["kind"]).high),
    "part_full": lambda a: getattr(capacity.part_full(float(a["y_D"])), a["of"]),
    "part_full_n": lambda a: capacity.part_full(float(a["y_D"])).flow / float(a["n_ratio"]),
    "greatest_flow": lambda a: capacity.greatest_flow()[a["of"] == "flow"],
    "greatest_velocity": lambda a: _fastest(a["of"]),
    "wall_fall": lambda _: rules.WALL_FALL.limit or 0.0,
    "lower_depth": lambda a: capacity.depth_ratios(float(a["q"]))[0] or 0.0,
    "self_cleaning": lambda _: rules.SELF_CLEANING.limit,
    "top_velocity": lambda _: rules.TOP_VELOCITY.limit,
    "top_velocity_local": _top_velocity_local,
    "in_per_ft": lambda a: _slope(a["slope"]) * 100,
    "code_floor": _code_floor,
    "full_velocity": lambda a: capacity.full_velocity(_bore(a), float(a["S_pct"]) / 100, float(a["n"])) / FOOT,
    "grade_for_velocity": lambda a: (
        _grade_where(lambda grade: capacity.full_velocity(_bore(a), grade, float(a["n"])), float(a["v_fps"]) * FOOT)
        * 100
    ),
    "no_pump_rate": _no_pump_rate,
    "gutter_bound": _gutter_bound,
    "concrete": lambda a: curb.concrete_left(float(a["curb_in"]) * INCH, float(a["pipe_od_in"]) * INCH) / INCH,
    "bore": lambda a: pipe(a["kind"], a["nominal"]).bore / INCH,
    "table_shape": _table_shape,
    "funnel": lambda a: links.outlet_funnel_flow(float(a["D_mm"]) * MILLIMETRE, float(a["h_mm"]) * MILLIMETRE) / LITRE,
    "exit_loss": _exit_loss,
    "bend": lambda a: steps.bend_loss(float(a["deg"])),
    "full_friction": lambda a: capacity.full_friction_slope(float(a["Q_gpm"]) * GPM, _bore(a), float(a["n"])) * 100,
    "velocity_head": lambda a: capacity.pressure_velocity_head(float(a["Q_gpm"]) * GPM, _bore(a)) / FOOT,
    "normal_ratio": lambda a: _normal(a) / _bore(a),
    "normal_velocity": lambda a: (
        capacity.part_full(_normal(a) / _bore(a)).velocity
        * capacity.full_velocity(_bore(a), float(a["S_pct"]) / 100, float(a["n"]))
        / FOOT
    ),
    "full_gpm": lambda a: _full(a) / GPM,
    "surcharge": _surcharge,
    "book_full": lambda a: (
        capacity.full_flow(pipe(a["kind"], a["nominal"]).bore, float(a["S_pct"]) / 100, float(a["n"])) / GPM
    ),
    "channel_critical": lambda a: section.critical_depth(CHANNEL, CHANNEL_FLOW, alpha=float(a["alpha"])) / FOOT,
    "block": _block,
}


@pytest.mark.parametrize(
    "row",
    [row for row in ROWS if row["calculation"] != "none"],
    ids=lambda row: f"{row['id']} {row['quantity']} [{row['source']}; {row['basis']}]",
)
def test_published_value(row: dict[str, str]) -> None:
    given = {**_inputs(row["inputs"]), "printed": row["value"], "value": row["value"]}
    found = CALCULATIONS[row["calculation"]](given)
    if isinstance(found, str):
        assert found == row["value"]
    else:
        assert abs(found - float(row["value"])) <= float(row["tolerance"]) + 1e-12


def test_every_row_carries_source_and_standing() -> None:
    for row in ROWS:
        assert row["source"], row["id"]
        assert row["basis"] in {"read", "memory", "derived", "common practice"}, row["id"]
        assert (row["calculation"] == "none") == row["note"].startswith("not computed"), row["id"]


def test_rows_of_the_reference_are_all_here_with_their_figures() -> None:
    reference = HERE.parents[1] / ".." / "shared" / "reference" / "hydraulics.csv"
    if not reference.exists():
        pytest.skip("the reference table is not beside the project")
    with reference.open(encoding="utf-8") as file:
        known = {row["id"]: row for row in csv.DictReader(file)}
    ours = {row["id"] for row in ROWS}
    assert set(known) <= ours
    # rows that both sides hold as one bare number
    plain = {"HY002", "HY003", "HY007", "HY018", "HY022", "HY027", "HY031", "HY063", "HY076", "HY104", "HY107", "HY110"}
    for row in ROWS:
        if row["id"] in plain:
            assert float(row["value"]) == float(known[row["id"]]["value"]), row["id"]


PART_FULL = list(csv.DictReader((HERE / "part_full.csv").read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("row", PART_FULL, ids=lambda row: row["y_D"])
def test_part_full_table_of_chow_1959_appendix_a_over_the_whole_range(row: dict[str, str]) -> None:
    """Geometric elements of a circle in steps of 0.05, from memory.

    One unit of the last digit, two are cut, not rounded.
    """
    ratio = capacity.part_full(float(row["y_D"]))
    area, radius = float(row["area_over_D2"]), float(row["radius_over_D"])
    assert ratio.area * math.pi / 4 == pytest.approx(area, abs=1e-4)
    assert ratio.radius / 4 == pytest.approx(radius, abs=1e-4)
    printed_flow = area / (math.pi / 4) * (radius / 0.25) ** (2 / 3)
    slack = printed_flow * (1e-4 / area + 2 / 3 * 1e-4 / radius)
    assert ratio.flow == pytest.approx(printed_flow, abs=slack)


FULL_AGAIN = {
    "full_gpm": lambda a: full_flow_anew(_bore(a), float(a["S_pct"]) / 100, float(a["n"])) / GPM,
    "ipc": lambda a: full_flow_anew(pipe("pvc_sch40", f"{a['size_in']} in").bore, _slope(a["slope"]), 0.010) / GPM,
    "upc": lambda a: full_flow_anew(float(a["size_in"]) * INCH, _slope(a["slope"]), 0.015) / GPM,
    "full_us": lambda _: full_flow_anew(FOOT, 1.0, 1.0) / FOOT**3,
}


@pytest.mark.parametrize(
    "row", [row for row in ROWS if row["calculation"] in FULL_AGAIN], ids=lambda row: f"{row['id']} {row['inputs']}"
)
def test_what_the_checks_work_with_is_the_printed_flow_too(row: dict[str, str]) -> None:
    found = FULL_AGAIN[row["calculation"]](_inputs(row["inputs"]))
    assert abs(found - float(row["value"])) <= float(row["tolerance"]) + 1e-12


@pytest.mark.parametrize("row", PART_FULL, ids=lambda row: row["y_D"])
def test_the_checks_own_part_full_pipe_over_the_whole_range(row: dict[str, str]) -> None:
    """Chow's table again, flow and speed by depth as the recheck has them, in a pipe of 0.2 m at 1 %, n 0.011."""
    bore, grade, n = 0.2, 0.01, 0.011
    area, radius = float(row["area_over_D2"]) * bore**2, float(row["radius_over_D"]) * bore
    flow = area * radius ** (2 / 3) * grade**0.5 / n
    slack = 1e-4 / float(row["area_over_D2"]) + 2 / 3 * 1e-4 / float(row["radius_over_D"])
    assert flow_at(float(row["y_D"]) * bore, bore, grade, n) == pytest.approx(flow, rel=slack)
    if float(row["y_D"]) <= 0.8:  # above, a flow has two depths
        assert speed_at(flow, bore, grade, n) == pytest.approx(flow / area, rel=3 * slack)


def test_a_leader_by_the_checks_is_the_closed_form_that_codes_print() -> None:
    """27.8 r^(5/3) D^(8/3) in gallons a minute and inches, NBS Monograph 31 (memory).

    With water on 7/24 of the section (older US codes, memory).
    """
    for inches in (2, 3, 4, 6):
        printed = 27.8 * (7 / 24) ** (5 / 3) * inches ** (8 / 3)
        assert leader(inches * INCH) / GPM == pytest.approx(printed, rel=0.003)


def test_the_greatest_flow_to_three_digits() -> None:
    assert round(capacity.greatest_flow()[0], 3) == 0.938
    assert round(capacity.greatest_flow()[1], 3) == 1.076
    # the same by looking at every depth
    depths = [place / 20000 for place in range(1, 20001)]
    flows = [capacity.part_full(depth).flow for depth in depths]
    assert depths[flows.index(max(flows))] == pytest.approx(capacity.greatest_flow()[0], abs=1e-4)


def test_part_full_flow_against_a_general_fluids_library_over_the_whole_range() -> None:
    geometry = pytest.importorskip("fluids.geometry")
    open_flow = pytest.importorskip("fluids.open_flow")
    bore, grade, n = 0.101, 0.0125, 0.011
    for place in range(1, 201):
        depth = bore * place / 200
        area = geometry.A_partial_circle(bore, depth)
        chord = bore * math.acos(max(1 - 2 * depth / bore, -1.0))
        flow = area * open_flow.V_Manning(area / chord, grade, n)
        ours = capacity.part_full(depth / bore).flow * capacity.full_flow(bore, grade, n)
        assert ours == pytest.approx(flow, rel=1e-9)
