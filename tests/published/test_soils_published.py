"""The book of soils against the tables it was taken from, typed anew.

All standing from memory but where 'read' stands.
"""

from __future__ import annotations

import pytest

from siteplan.books.soils import entry

PSI, KPA, PCF, TCF = 6894.757, 1000.0, 157.0875, 314_175.0  # Pa; N/m3 of lbf/ft3 and of short ton/ft3

# A. K. Howard, Modulus of Soil Reaction Values for Buried Flexible Pipe, ASCE J. Geotech. Eng. Div. 103 GT1 (1977), and
# USBR
# REC-ERC-77-01: average E' [psi] dumped, slight (< 85 % Proctor), moderate (85 to 95 %), high (> 95 %). Memory
HOWARD = {
    "lean_fines": (50, 200, 400, 1000),
    "dirty_coarse": (100, 400, 1000, 2000),
    "clean_coarse": (200, 1000, 2000, 3000),
    "crushed_rock": (1000, 3000, 3000, 3000),
}

# J. E. Bowles, Foundation Analysis and Design, table 9-1 [kN/m3]. Read
BOWLES = {
    "loose_sand": (4800, 16000),
    "medium_sand": (9600, 80000),
    "dense_sand": (64000, 128_000),
    "clay_200": (12000, 24000),
    "clay_800": (24000, 48000),
}

# K. Terzaghi, Evaluation of coefficients of subgrade reaction, Geotechnique 5(4) (1955): 1 ft plate [short ton/ft3].
# Memory
TERZAGHI = {"loose_sand_moist": 40, "loose_sand_submerged": 25, "medium_sand_submerged": 80, "stiff_clay": 75}

# A. P. Moser, Buried Pipe Design, table 3.3: bedding angle [degrees] and constant. Read
MOSER = {0: 0.110, 30: 0.108, 90: 0.096, 120: 0.090, 180: 0.083}

# A. Marston's trench theory, K mu by fill, in handbooks of concrete and clay pipe. Memory
MARSTON = {"saturated_clay": 0.110, "clay": 0.130, "saturated_topsoil": 0.150, "sand": 0.165, "granular": 0.192}

# unit weights [lbf/ft3] of handbooks of soil mechanics: least, usual, most. Memory
WEIGHTS = {
    "dry": (90, 100, 110),
    "moist": (100, 115, 125),
    "wet": (110, 120, 130),
    "organic": (75, 85, 100),
    "mud": (90, 110, 120),
}

# stiffness of the ground per length of line [psi]: our judgement within those tables; softer by steps, each known to a
# factor
LINES = {
    "firm": (1000, 2000, 4000),
    "stone": (1000, 2000, 4000),
    "soft_clay": (200, 300, 500),
    "wet_loose": (50, 100, 200),
    "loose_fill": (100, 200, 400),
    "mud": (5, 20, 50),
}

# what a bed settles: geotechnical practice, memory; a factor 2 on top where it says so. Parts of the refill's thickness
BEDS = {
    "over_stone": (0.0, 0.005, 0.01),
    "over_tamped": (0.01, 0.02, 0.04),
    "over_dumped": (0.02, 0.05, 0.10),
    "house_backfill": (0.03, 0.05, 0.10),
}


def _values(group, name, unit):
    row = entry(group, name)
    return [None if one is None else pytest.approx(one * unit, rel=1e-4) for one in (row.low, row.likely, row.high)]


@pytest.mark.parametrize("name", HOWARD)
def test_modulus_of_soil_reaction(name):
    for step, held in zip(("dumped", "slight", "moderate", "high"), HOWARD[name], strict=True):
        assert entry("soil_reaction", f"{name}.{step}").likely == pytest.approx(held * PSI, rel=1e-4), step
    assert entry("soil_reaction", "fat_clay.dumped").likely == 0  # Howard: no data, use 0


@pytest.mark.parametrize("name", BOWLES)
def test_modulus_of_subgrade(name):
    row = entry("subgrade", name)
    assert (row.low, row.high) == pytest.approx(tuple(one * KPA for one in BOWLES[name]), rel=1e-6)


@pytest.mark.parametrize("name", TERZAGHI)
def test_a_plate_of_a_foot(name):
    row, likely = entry("plate", name), TERZAGHI[name] * TCF
    assert (row.low, row.likely, row.high) == pytest.approx((0.5 * likely, likely, 1.5 * likely), rel=1e-3)


def test_constants_of_bedding_and_of_friction():
    assert {angle: entry("bedding_constant", str(angle)).likely for angle in MOSER} == pytest.approx(MOSER)
    assert {fill: entry("trench_friction", fill).likely for fill in MARSTON} == pytest.approx(MARSTON)


@pytest.mark.parametrize(
    ("group", "table", "unit"),
    [("unit_weight", WEIGHTS, PCF), ("line_modulus", LINES, PSI), ("bed_settlement", BEDS, 1)],
)
def test_ranges(group, table, unit):
    for name, held in table.items():
        row = entry(group, name)
        assert (row.low, row.likely, row.high) == pytest.approx(tuple(one * unit for one in held), rel=1e-4), name


def test_a_clean_bottom_settles_a_tenth_of_an_inch_or_two():
    row = entry("bed_settlement", "clean")
    assert (row.low, row.likely, row.high) == pytest.approx((0.0, 0.00254, 0.00508))
    assert entry("bed_settlement", "muck").likely is None


def test_what_holds_a_ring_beside_the_pipe():
    """Half of Howard's values, as cover is shallow: lean fines and clean coarse ground at 85 to 95 %.

    Mud below the table.
    """
    held = {name: entry("embedment", name).likely / PSI for name in ("mud", "hand_tamped", "stone")}
    assert held == pytest.approx({"mud": 50, "hand_tamped": 400 / 2, "stone": 2000 / 2}, rel=1e-4)
