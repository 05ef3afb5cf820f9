"""Pipe and ground against figures from outside.

One test a row of ground_pipe.csv, its source in the row and in the test's id.

A row says how it is worked (`check`), with what, what the source gives, how close we must come (a share, or the
unit's own), and where the figure stands. Rows of check 'fact' compute nothing here and say why.
"""

import csv
import math
from itertools import product
from pathlib import Path

import closed_forms
import make_bedding as compare
import numpy as np
import pytest

from siteplan import units as u
from siteplan.bedding import loads, sleeve, trench, weight
from siteplan.bedding.beam import bent_line, characteristic
from siteplan.bedding.ring import deflection_of_ring, minimum_cover
from siteplan.books import practice, rules, soils, vehicles
from siteplan.books.services import service
from siteplan.books.stock import stock, stocks

HERE = Path(__file__).parent
ROWS = list(csv.DictReader((HERE / "ground_pipe.csv").read_text(encoding="utf-8").splitlines()))
SHARED = HERE.parents[2] / "shared" / "reference"
IN, FT, PSI, PCF, LBF, PLF, EI = (
    u.INCH,
    u.FOOT,
    u.PSI,
    u.POUND_PER_CUBIC_FOOT,
    u.POUND_FORCE,
    u.POUND_PER_FOOT,
    u.POUND_INCH2,
)
LONG = 60 * FT
CHECKS = {}


def check(made):
    CHECKS[made.__name__] = made
    return made


def inputs_of(row):
    pairs = dict(part.split("=", 1) for part in row["inputs"].split(";") if part)

    def read(text):
        try:
            return float(text)
        except ValueError:
            return text

    return {key: read(text) for key, text in pairs.items()}


def pipe(i, kind="kind", nominal="nominal"):
    return stock(i[kind], f"{i[nominal]:g} in")


@pytest.mark.parametrize(
    "row", [r for r in ROWS if r["check"] != "fact"], ids=lambda r: f"{r['id']}-{r['check']}-{r['standing']}"
)
def test_figure_of_a_source(row):
    found = CHECKS[row["check"]](inputs_of(row), row)
    wanted = [float(part) for part in row["value"].split(";")] if row["tolerance"] else []
    assert len(found) == len(wanted), row["source"]
    for ours, theirs in zip(found, wanted, strict=True):
        text = row["tolerance"]
        close = float(text[:-1]) / 100 * abs(theirs) if text.endswith("%") else float(text)
        assert abs(ours - theirs) <= close + 1e-9 * abs(theirs), (
            f"{row['id']}: {ours:g} against {theirs:g} ({row['source']})"
        )


def test_every_row_of_the_reference_is_here_with_its_figure():
    if not (SHARED / "ground.csv").exists():
        pytest.skip("the shared reference does not lie beside this repository")
    reference = {r["id"]: r for r in csv.DictReader((SHARED / "ground.csv").read_text(encoding="utf-8").splitlines())}
    ours = {r["id"]: r for r in ROWS}
    assert set(ours) == set(reference)
    for name, row in ours.items():
        assert row["standing"] == reference[name]["basis"], name
        if row["value"] and row["tolerance"] and ";" not in row["value"]:
            numbers = [
                part.strip("<>%,") for part in reference[name]["value"].replace("-", " -").replace("/", " ").split()
            ]
            assert any(_same(row["value"], number) for number in numbers), name


def _same(ours, theirs):
    try:
        return math.isclose(float(ours), abs(float(theirs)) * math.copysign(1, float(ours)))
    except ValueError:
        return False


def test_facts_give_a_reason():
    facts = [r for r in ROWS if r["check"] == "fact"]
    assert {r["id"] for r in facts} == {
        "GR111",
        "GR156",
        "GR157",
        "GR158",
        "GR159",
        "GR160",
        "GR161",
        "GR162",
        "GR170",
        "GR171",
        "GR174",
        "GR175",
        "GR177",
        "GR178",
        "GR179",
        "GR180",
        "GR181",
        "GR182",
        "GR183",
        "GR184",
        "GR185",
        "GR186",
        "GR188",
        "GR195",
    }
    assert all(r["reason"] for r in facts)


# ------------------------------------------------------------------ the pipe itself


@check
def ring(i, _row):
    """The second moment that the book's EI implies, for the pipe of this size."""
    (entry,) = (e for e in stocks() if (e.pipe.od, e.pipe.wall) == pytest.approx((i["od_in"] * IN, i["wall_in"] * IN)))
    return [entry.bending_short / entry.modulus_short / IN**4]


def _theory(i):
    return 4.47 * i["E_psi"] / (i["od_in"] / i["wall_in"] - 1) ** 3


@check
def stiffness(i, row):
    assert pipe(i).stiffness / PSI == pytest.approx(float(row["value"]), rel=1e-9)
    return [_theory(i)]


@check
def stiffness_theory(i, _row):
    book = pipe(i).stiffness / PSI
    assert book == pytest.approx(_theory(i), rel=0.01)
    return [book]


@check
def ring_limit(i, _row):
    return [pipe(i).ring_limit * 100]


@check
def corrugated_plate(_i, row):
    """The book's EI within the doubt that the book states of it."""
    book = stock("pe_corr_single", "4 in")
    assert 1 / book.bending_factor < book.bending_short / EI / float(row["value"]) < book.bending_factor
    return []


@check
def bending_ratio(i, _row):
    return [pipe(i, "stiff").bending_short / pipe(i, "limp").bending_short]


@check
def liner(i, _row):
    found = i["E_psi"] * math.pi * i["r_in"] ** 3 * i["liner_in"]
    assert stock("pe_corr_dual", "4 in").bending_short / EI == pytest.approx(found, rel=0.01)
    return [found]


# ------------------------------------------------------------------ weight


@check
def full_weight(i, _row):
    return [weight.weight_in_air(pipe(i), 1.0) / PLF]


@check
def net_empty(i, _row):
    return [-weight.net_weight(pipe(i), 0.0, "saturated") / PLF]


@check
def net_full(i, _row):
    return [weight.net_weight(pipe(i), 1.0, "saturated") / PLF]


@check
def net_mud(i, _row):
    return [-weight.net_weight(pipe(i), 1.0, "mud", i["gamma_pcf"] * PCF) / PLF]


@check
def soil_replaced(i, _row):
    return [weight.soil_replaced(pipe(i), i["gamma_pcf"] * PCF) / PLF]


@check
def pipe_share(i, _row):
    return [100 * weight.pipe_share(pipe(i), i["cover_ft"] * FT, i["gamma_pcf"] * PCF)]


@check
def new_load(i, _row):
    gamma, cover, od = i["gamma_pcf"] * PCF, i["cover_ft"] * FT, pipe(i).pipe.od
    return [(weight.bed_load(pipe(i), cover, gamma) - gamma * od * (cover + od)) / PLF]


@check
def flotation_cover(i, _row):
    needed = weight.uplift(pipe(i), 1.0, i["gamma_pcf"] * PCF, factor=i["factor"]).cover_needed
    assert not weight.uplift(pipe(i), needed * 0.99, i["gamma_pcf"] * PCF, factor=i["factor"]).holds
    assert weight.uplift(pipe(i), needed * 1.01, i["gamma_pcf"] * PCF, factor=i["factor"]).holds
    return [needed / IN]


# ------------------------------------------------------------------ hung in air


def _in_air(span, bending, held):
    end = {"simple": "pinned", "fixed": "fixed"}[held]
    load = weight.weight_in_air(stock("pvc_sch40", "4 in"), 1.0)
    return bent_line(span, bending=bending, modulus=0.0, load=load, ends=(end, end), breaks=[span / 2])


@check
def hanger(i, _row):
    """Greatest span of whole half feet, by the beam and the book, whose sag after 50 years is within 1/1000 of it."""
    spans = [half / 2 * FT for half in range(2, 20)]
    kept = [span for span in spans if _in_air(span, pipe(i).bending_long, "simple").sag.max() <= span / 1000]
    return [max(kept) / FT]


@check
def hung(i, _row):
    book = stock("pvc_sch40", "4 in")
    bent = _in_air(i["span_ft"] * FT, book.bending_short if i["term"] == "short" else book.bending_long, i["held"])
    section = book.bending_short / book.modulus_short / (book.pipe.od / 2)
    return [{"sag": bent.sag.max() / IN, "stress": np.abs(bent.moment).max() / section / PSI}[i["what"]]]


# ------------------------------------------------------------------ beam on springs


def _endless(i, **more):
    """60 ft of pipe on even springs that also pull, free at both ends: endless for what happens at its middle."""
    return bent_line(
        LONG, bending=i["EI_lb_in2"] * EI, modulus=i["k_psi"] * PSI, ends=("free", "free"), pull=True, **more
    )


def _middle(bent):
    return int(np.argmin(np.abs(bent.at - LONG / 2)))


@check
def point_sag(i, _row):
    bent = _endless(i, load=0.0, points=[(LONG / 2, i["P_lb"] * LBF)])
    return [bent.sag[_middle(bent)] / IN]


@check
def point_moment(i, _row):
    bent = _endless(i, load=0.0, points=[(LONG / 2, i["P_lb"] * LBF)])
    return [bent.moment[_middle(bent)] / (LBF * IN)]


def _patch(i):
    start, end = LONG / 2 - i["a_in"] * IN, LONG / 2 + i["a_in"] * IN
    force = i["q_lb_per_in"] * LBF / IN
    return _endless(i, load=lambda x: np.where((x > start) & (x < end), force, 0.0), breaks=[start, LONG / 2, end])


@check
def patch_sag(i, _row):
    bent = _patch(i)
    return [bent.sag[_middle(bent)] / IN]


@check
def patch_moment(i, _row):
    bent = _patch(i)
    return [bent.moment[_middle(bent)] / (LBF * IN)]


def _step(i):
    return _endless(i, load=0.0, drop=lambda x: np.where(x > LONG / 2, i["s0_in"] * IN, 0.0), breaks=[LONG / 2])


@check
def step_slope(i, _row):
    bent = _step(i)
    return [bent.slope[_middle(bent), 0]]


@check
def step_stress(i, _row):
    second = i["EI_lb_in2"] / 400000
    return [float(np.max(np.abs(_step(i).moment))) / (LBF * IN) * i["c_in"] / second]


@check
def end_reach(i, _row):
    return [4 / characteristic(i["EI_lb_in2"] * EI, i["k_psi"] * PSI) / IN]


def _soft(i, ends=("fixed", "fixed"), shape="flat", s0=0.0, patch=120.0, firm="k_firm_psi", soft="k_soft_psi", **more):
    a, b = LONG / 2 - patch * IN / 2, LONG / 2 + patch * IN / 2
    weak = i.get(soft, 0.0)

    def inside(x):
        return (x > a) & (x < b)

    def drop(x):
        if shape == "cos":
            return np.where(inside(x), s0 * IN / 2 * (1 - np.cos(2 * np.pi * (x - a) / (b - a))), 0.0)
        return np.where(inside(x), s0 * IN, 0.0)

    return bent_line(
        LONG,
        bending=i["EI_lb_in2"] * EI,
        modulus=lambda x: np.where(inside(x), weak, i[firm]) * PSI,
        drop=drop,
        load=i["q_lb_per_in"] * LBF / IN,
        ends=ends,
        breaks=[a, LONG / 2, b],
        **more,
    )


@check
def end_fixity(i, _row):
    clamped, free = _soft(i).sag, _soft(i, ends=("free", "free")).sag
    n = len(clamped) // 2
    assert clamped[n] / IN == pytest.approx(0.32128, abs=2e-4)
    return [(clamped[n] - free[n]) / IN]


@check
def soft_patch(i, _row):
    bent = _soft(i, patch=i["patch_in"])
    return [bent.sag[_middle(bent)] / IN]


@check
def standing_water(i, _row):
    bent = _soft(i, patch=i["patch_in"], s0=i["s0_in"], shape=i["shape"])
    invert = -bent.sag + i["grade"] * bent.at  # from the outlet up
    return [float(np.max(np.maximum.accumulate(invert) - invert)) / IN]


@check
def void_sag(i, _row):
    return [_soft(i, patch=i["void_in"]).sag.max() / IN]


@check
def wall_backfill(i, row):
    start = LONG - i["zone_in"] * IN
    bent = bent_line(
        LONG,
        bending=i["EI_lb_in2"] * EI,
        modulus=lambda x: np.where(x > start, i["k_soft_psi"], i["k_firm_psi"]) * PSI,
        drop=lambda x: np.where(x > start, i["s0_in"] * IN, 0.0),
        load=i["q_lb_per_in"] * LBF / IN,
        breaks=[start],
    )
    if row["id"] == "GR063":  # the source's stress at the wall, in psi
        section = i["EI_lb_in2"] / 400000 / (4.5 / 2)
        assert abs(bent.moment[-1]) / (LBF * IN) / section == pytest.approx(528, rel=0.005)
    return [bent.sag.max() / IN]


@check
def rock(i, _row):
    """A narrow proud spot on a bed so hard that the pipe gives and the bed does not."""
    bending = i["EI_lb_in2"] * EI
    off = (
        72 * i["EI_lb_in2"] * i["height_in"] / i["q_lb_per_in"]
    ) ** 0.25 * IN  # how far the pipe will lie off the bed
    middle, half = 2 * off, off / 100
    bent = bent_line(
        4 * off,
        bending=bending,
        modulus=4 * bending * (40 / off) ** 4,
        drop=lambda x: np.where(np.abs(x - middle) < half, -i["height_in"] * IN, 0.0),
        load=i["q_lb_per_in"] * LBF / IN,
        breaks=[middle - half, middle, middle + half],
        element=half,
    )
    push = bent.ground * np.diff(bent.at)[:, None] * np.array([5, 8, 5]) / 18
    return [float(push[np.abs(bent.ground_at - middle) < half].sum()) / LBF]


def _limp_pool(dip, length, grade, shape):
    """Standing water in a pipe too limp to bridge anything, by the beam."""
    line = {"EI_lb_in2": 10.0, "q_lb_per_in": 6.25, "firm": 2000.0, "soft": 2000.0}
    bent = _soft(
        line,
        ends=("free", "free"),
        patch=length / IN,
        s0=dip / IN,
        shape=shape,
        firm="firm",
        soft="soft",
        element=0.1 * IN,
    )
    invert = grade * bent.at - bent.sag
    deep = np.maximum.accumulate(invert) - invert
    return float(deep.max()), float(np.diff(bent.at)[deep[1:] > 1e-5].sum())


@check
def bowl(i, _row):
    return [_limp_pool(i["dip_in"] * IN, i["length_ft"] * FT, i["grade"], "cos")[0] / IN]


@check
def emptying(i, row):
    """Just under this grade water stands in the dip, just over it none does."""
    dip, length, grade = i["dip_in"] * IN, i["length_ft"] * FT, float(row["value"]) / 100
    assert _limp_pool(dip, length, 0.97 * grade, "cos")[0] > 2e-5
    assert _limp_pool(dip, length, 1.01 * grade, "cos")[0] < 2e-6
    return []


@check
def sharp(i, _row):
    depth, length = _limp_pool(i["dip_in"] * IN, i["patch_ft"] * FT, i["grade"], "flat")
    assert length / IN == pytest.approx(100, rel=0.08)
    return [depth / IN]


@check
def excess(_i, _row):
    """By how much PVC ponds deeper than corrugated PE on the same bed, at worst, dead-flat lines among them."""
    worst = 0.0
    pipes = [stock(kind, "4 in") for kind in compare.KINDS]  # two of PVC, two of PE
    beds = [
        *product((6, 10, 20), (20,), (2.0,), (0.0, 0.01), ("sharp", "bowl")),
        *product((4, 10), (50, 200), (0.5,), (0.0, 0.02), ("sharp",)),
    ]
    for patch, soft, drop, grade, edge in beds:
        ground = compare.Ground(title="", modulus=soft * PSI, drop=drop * IN, edge=edge)
        wet = (LONG / 2 - patch * FT / 2, LONG / 2 + patch * FT / 2)
        depth = [entry.depth_long for entry in compare.side_by_side(pipes, [ground], wet=wet, grade=grade)]
        worst = max([worst, *(stiff - limp for stiff in depth[:2] for limp in depth[2:])])
    return [worst / IN]


@check
def pool_length(i, _row):
    return [_limp_pool(i["depth_in"] * IN, 20 * FT, i["grade"], "flat")[1] / IN]


# ------------------------------------------------------------------ loads


@check
def prism(i, _row):
    return [loads.prism_pressure(i["cover_ft"] * FT, i["gamma_pcf"] * PCF) * i["od_in"] * IN / PLF]


@check
def prism_pressure(i, _row):
    return [loads.prism_pressure(i["H_ft"] * FT, i["gamma_pcf"] * PCF) / (LBF / FT**2)]


@check
def trench_coefficient(i, _row):
    """Of the referee."""
    return [closed_forms.trench_coefficient(i["H_ft"], i["Bd_ft"], i["Kmu"])]


@check
def trench_flexible(i, row):
    """The whole prism that we take is no less."""
    prism = loads.prism_pressure(i["H_ft"] * FT, i["gamma_pcf"] * PCF) * i["OD_in"] * IN / PLF
    assert prism > float(row["value"])
    return [
        closed_forms.trench_coefficient(i["H_ft"], i["Bd_ft"], i["Kmu"]) * i["gamma_pcf"] * i["Bd_ft"] * i["OD_in"] / 12
    ]


@check
def trench_rigid(i, _row):
    """Of the referee."""
    return [closed_forms.trench_coefficient(i["H_ft"], i["Bd_ft"], i["Kmu"]) * i["gamma_pcf"] * i["Bd_ft"] ** 2]


@check
def boussinesq(i, _row):
    """Of the referee."""
    found = closed_forms.boussinesq_coefficient(i["B/2H"], i["L/2H"])
    assert found == pytest.approx(_double_integral(i["B/2H"], i["L/2H"]), abs=2e-4)
    return [found]


def _double_integral(m, n, steps=400):
    """Boussinesq's point load summed over the rectangle, midpoints; depth 1."""
    x = (np.arange(steps) + 0.5) / steps
    X, Y = np.meshgrid(m * x, n * x)
    return float(4 * m * n / steps**2 * np.sum(3 / (2 * np.pi) / (1 + X**2 + Y**2) ** 2.5))


@check
def wheel_load(i, _row):
    return [vehicles.vehicle(i["vehicle"]).wheel / LBF]


@check
def wheel_patch(i, _row):
    found = vehicles.vehicle(i["vehicle"])
    return [found.width * found.length / IN**2]


@check
def axle_limit(i, _row):
    return [2 * vehicles.vehicle(i["vehicle"]).wheel / LBF]


@check
def highway_impact(i, _row):
    """Of the referee."""
    return [closed_forms.highway_impact(i["cover_ft"])]


@check
def paved_h20(i, row):
    """Bare ground, which we take, presses harder than under the pavement that this table presumes."""
    assert loads.wheel_pressure(vehicles.vehicle("truck"), i["cover_ft"] * FT, 0.1) / PSI > float(row["value"])
    return []


@check
def unpaved_wheel(i, _row):
    return [loads.wheel_pressure(vehicles.vehicle(i["vehicle"]), i["cover_ft"] * FT, i["Di_ft"] * FT) / PSI]


@check
def boussinesq_wheel(i, _row):
    """Of the referee; our own pressure lies within 30 % of it."""
    assert closed_forms.highway_impact(i["cover_ft"]) == i["impact"]
    found = closed_forms.boussinesq_load(i["P_lb"], i["cover_ft"], i["od_in"] / 12, i["L_ft"])
    ours = loads.wheel_pressure(vehicles.vehicle("truck"), i["cover_ft"] * FT, i["od_in"] * IN) * i["od_in"] * IN
    assert ours / PLF == pytest.approx(found, rel=0.3)
    return [found]


# ------------------------------------------------------------------ the ring


def _iowa(i):

    return deflection_of_ring(
        i["PS_psi"] * PSI, i["Eprime_psi"] * PSI, i["Pe_psi"] * PSI, i["PL_psi"] * PSI, constant=i["K"], lag=i["DL"]
    )


@check
def iowa(i, _row):
    return [100 * _iowa(i)]


@check
def iowa_forms(i, _row):

    radius = (i["od_in"] - i["wall_in"]) / 2
    ei_r3 = i["E_psi"] * i["wall_in"] ** 3 / 12 / radius**3  # EI/r^3 of a strip of wall
    first = 0.1 * 1.5 * i["soil_psi"] / (ei_r3 + 0.061 * i["Eprime_psi"])
    second = deflection_of_ring(ei_r3 / 0.149 * PSI, i["Eprime_psi"] * PSI, i["soil_psi"] * PSI, 0.0)
    assert second == pytest.approx(first, rel=1e-6)
    return []


@check
def bedding_constant(i, _row):
    return [soils.value_range("bedding_constant", f"{i['bedding_angle_deg']:g}").likely]


@check
def shallow_share(i, _row):
    listed = soils.value_range("soil_reaction", i["soil"]).likely
    return [100 * soils.value_range("embedment", i["embedment"]).likely / listed]


@check
def soil_reaction(i, _row):
    found = [e.likely / PSI for e in soils.entries() if e.group == "soil_reaction" and e.id.split(".")[0] == i["soil"]]
    return [round(value, 6) for value in found]


@check
def least_cover(i, _row):
    found = minimum_cover(
        pipe(i), vehicles.vehicle(i["vehicle"]), unit_weight=i["gamma_pcf"] * PCF, reaction=i["Eprime_psi"] * PSI
    )
    assert found.least >= 12 * IN - 1e-9
    return [found.by_sum / IN]


# ------------------------------------------------------------------ the ground


@check
def subgrade(i, _row):
    entry = soils.entry("subgrade", i["row"])
    return [entry.low / 1000, entry.high / 1000]


@check
def conversion(_i, _row):
    return [LBF / IN**3 / 1000]


@check
def bearing(i, row):
    """The book's clay of this bearing has it in its range."""
    entry = soils.entry("subgrade", i["row"])
    assert entry.low <= float(row["value"]) * 1000 <= entry.high
    return []


@check
def plate(i, _row):
    entry = soils.entry("plate", i["row"])
    assert (entry.low / entry.likely, entry.high / entry.likely) == pytest.approx((0.5, 1.5))
    return [entry.likely / (2000 * PCF)]


@check
def vesic(i, row):
    """The book's judgement of such soil has it in its range."""
    known = soils.value_range("line_modulus", i["row"])
    assert known.low <= float(row["value"]) * PSI <= known.high
    return []


@check
def line_modulus(i, _row):
    return [soils.value_range("line_modulus", i["row"]).likely / PSI]


@check
def bed_settlement(i, row):
    found = soils.settlement(i["row"], i["thickness_in"] * IN)
    low, high = (float(part) for part in row["value"].split(";"))
    assert found.low / IN <= low + 1e-9
    assert high <= found.high / IN + 1e-9
    assert low - 1e-9 <= found.likely / IN <= high + 1e-9
    return [low, high]


@check
def muck(_i, _row):
    with pytest.raises(ValueError, match="dig out two pipe diameters"):
        soils.settlement("muck", 1.0)
    return []


@check
def observed_trench(i, row):
    found = soils.settlement("house_backfill", i["depth_ft"] * FT)
    assert found.low <= float(row["value"]) * IN <= found.high
    return []


# ------------------------------------------------------------------ trench, frost, sleeve


_SHOWN = {"in": IN, "diameters": 1.0}


@check
def trench_rule(i, row):
    rule = trench.fact(i["rule"])
    assert rule.basis == row["standing"]
    assert rule.source
    return [] if rule.value is None else [rule.value / _SHOWN[row["unit"]]]


@check
def trench_limit(i, row):
    """A limit of the book of rules, which plans are judged by."""
    rule = next(one for one in rules.RULES if one.id == i["rule"])
    assert rule.unit == row["unit"]
    assert "1926.65" in rule.source
    return [rule.limit]


@check
def spoil(_i, row):
    """What every plan's cautions say."""
    told, unit = rules.TRENCH_DEPTHS["ft"][2].split()
    assert unit == row["unit"]
    return [float(told)]


@check
def ladder_reach(_i, _row):
    assert "within 25 ft" in rules.TRENCH_LADDER.title
    return []


@check
def colour(i, _row):
    """The paint that our sheets draw these services in."""
    assert {service(word).paint for word in i["service"].split("|")} == {i["colour"]}
    return []


@check
def frost_note(_i, _row):
    assert "empties itself" in trench.frost_note(1.0, 0.5, empties=True)
    assert "mend the belly" in trench.frost_note(1.0, 0.5, empties=False)
    return []


@check
def pump_note(_i, _row):
    assert "open gap or relief" in trench.frost_note(1.0, 0.5, empties=True, pumped=True)
    return []


@check
def sleeve_clearance(i, _row):
    carrier = pipe(i, "carrier", "carrier_nominal")
    fit = sleeve.sleeve_fit(carrier, pipe(i, "sleeve", "sleeve_nominal"))
    assert (fit.play > 0) == (i["carrier_nominal"] == 4)  # the coupling of 3 in does not pass 4 in
    return [(fit.play + carrier.bell - carrier.pipe.od) / IN]


@check
def sleeve_choice(i, _row):
    solid = [entry for entry in stocks() if entry.pipe.kind == "pvc_sch40"]
    carrier = pipe(i, "carrier", "carrier_nominal")
    passed = [entry for entry in solid if sleeve.sleeve_fit(carrier, entry).play > 0]
    assert practice.SLEEVE_PAST / FT == 1
    return [float(min(passed, key=lambda entry: entry.pipe.bore).pipe.nominal.split()[0])]


@check
def sleeve_cover(i, _row):
    fit = sleeve.sleeve_fit(pipe(i, "carrier", "carrier_nominal"), pipe(i, "sleeve", "sleeve_nominal"))
    assert fit.stock.pipe.below / IN == pytest.approx(0.28, abs=0.001)
    return [fit.above / IN]
