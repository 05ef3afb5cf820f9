"""Fixed objects are known by place and height.

Whatever a crew calls them, and nothing is said to agree that does not.
"""

from __future__ import annotations

import json

import pytest

from siteplan.laid.asbuilt_text import asbuilt_as_json, asbuilt_as_text
from siteplan.laid.asbuilt_typed import checked_from_typed

FOOT = 0.3048
PLAN = """1,5010,2040,95.50,OUTLET INV
2,5040,2040,95.80,WYE-1
4,5110,2040,96.50,DS START
20,5000,2030,99.10,SLAB CORNER
21,5060,2050,97.00,BM 7
"""
PIPE = [
    (5010 + s, 2040, 95.50 + s / 100, {0: "OUTLET INV", 30: "WYE-1", 100: "DS START"}.get(s, "INV"))
    for s in range(0, 110, 10)
]


@pytest.fixture
def told(shots):
    def run(objects, up=0.0, plan=PLAN):
        rows = [*((n, e, z + up, name) for n, e, z, name in PIPE), *objects]
        text = "".join(f"{i},{n:.2f},{e:.2f},{z:.2f},{name}\n" for i, (n, e, z, name) in enumerate(rows, 1))
        made, result = checked_from_typed({"plan": shots(plan, "plan.csv"), "shots": shots(text)})
        return json.loads(asbuilt_as_json(result, made)), asbuilt_as_text(result, made)

    return run


@pytest.mark.parametrize("name", ["spike", "PK nail", "BM spike", "X cut", "A-9", "", "monument", "rebar", "CP"])
@pytest.mark.parametrize("up", [0.30, -0.22, 2.4])
def test_a_benchmark_by_any_name(told, name, up):
    objects = [(5000.02, 2030.01, 99.10 + up, "slab"), (5060.01, 2050.0, 97.01 + up, name)]
    record, text = told(objects, up)
    assert {one["name"] for one in record["fixed"]} == {"SLAB CORNER", "BM 7"}
    assert record["datum_shift"] == pytest.approx(up * FOOT, abs=0.003)
    assert record["verdict"] == "fix-paper"
    assert "On no line" not in text


def test_two_objects_without_a_word(told):
    record, _ = told([(5000.02, 2030.01, 99.40, "701"), (5060.01, 2050.0, 97.30, "702")], 0.3)
    assert record["datum_shift"] == pytest.approx(0.3 * FOOT, abs=0.003)
    assert record["verdict"] == "fix-paper"


def test_pipe_beside_an_object_of_its_own_height_stays_pipe(told):
    """A gutter's flow line half a foot beside the outlet: the shot on the outlet is no shot of the gutter."""
    plan = PLAN + "22,5009.6,2040,95.46,FL\n"
    for name in ("OUTLET INV", "end of run", "1"):
        rows = [(5009.9, 2040.0, 95.50, name)]
        record, _ = told(rows, plan=plan)
        assert record["fixed"] == []


def test_a_cap_beside_a_slab_is_no_slab(told):
    plan = PLAN + "23,5080.3,2040.3,97.60,SLAB EDGE\n"
    record, _ = told([(5080, 2040, 97.60, "CO-3 CAP")], plan=plan)
    assert "SLAB EDGE" not in {one["name"] for one in record["fixed"]}


@pytest.mark.parametrize(
    ("objects", "says", "not_said"),
    [
        ([(5000, 2030, 99.10, "slab")], "1 fixed object agrees with the plan", "not settled"),
        ([(5000, 2030, 99.40, "slab")], "Datum: not settled", "agrees with the plan"),
        ([(5000, 2030, 98.98, "slab")], "Datum: not settled", "agrees with the plan"),
        ([(5000, 2030, 99.10, "slab"), (5060, 2050, 97.10, "BM 7")], "Datum: not settled", "agree with the plan"),
        (
            [(5000, 2030, 99.10, "slab"), (5060, 2050, 97.00, "BM 7")],
            "2 fixed objects agree with the plan",
            "not settled",
        ),
    ],
)
def test_what_is_said_of_the_datum_is_said_once(told, objects, says, not_said):
    _, text = told(objects)
    assert says in text
    assert not_said not in text


def test_what_a_plan_list_holds_for_fixed_is_named(told):
    record, _ = told([(5000, 2030, 99.10, "slab")])
    assert any("but for fixed objects (SLAB CORNER, BM 7)." in one for one in record["assumptions"])
