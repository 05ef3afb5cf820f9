"""Whatever a plan holds is written to plan.json and read back.

A sheet made from the file prints what the planner knew.
"""

from __future__ import annotations

import dataclasses
import enum
import itertools
import json
import math
import types
import typing
from pathlib import Path

import pytest

from siteplan.errors import InputError
from siteplan.sheets.plan_json import plan_json
from siteplan.stored.plan_of import parsed, plan_as_stored, stored_plan
from siteplan.survey.folder import read_site
from siteplan.values.water_ends import Inflows
from siteplan.values.whole_plan import Plan

REPO = Path(__file__).parents[2]
WORDS = {
    "length_unit": "ft",
    "elevation_unit": "us-ft",
    "status": "flag",
    "vehicle": "truck",
    "held": ("guided", "free"),
    "crs": "local",
    "survey_crs": "local",
    "survey_unit": "us-ft",
}
NEAR = {"x": 500.0, "y": 500.0, "od": 15000.0}


class Filled:
    """Every field of a value filled with something that stands nowhere else."""

    def __init__(self):
        self.count = itertools.count(1)

    def of(self, kind, name):
        if name in WORDS and not (name == "held" and kind is float):
            return WORDS[name]
        if name in {"modulus", "drop", "depth", "length"} and typing.get_origin(kind) is tuple:
            first = next(self.count)
            return (first + 0.5, first + 1.5, first + 2.5)
        if name in NEAR:  # greater than any bore, near to one another
            return NEAR[name] + next(self.count) / 8
        if dataclasses.is_dataclass(kind):
            hints = typing.get_type_hints(kind)
            return kind(**{one.name: self.of(hints[one.name], one.name) for one in dataclasses.fields(kind)})
        origin, inside = typing.get_origin(kind), typing.get_args(kind)
        if isinstance(kind, enum.EnumMeta):
            origin, inside = typing.Literal, tuple(kind)
        if origin is typing.Literal:
            return inside[-1]
        if origin in (types.UnionType, typing.Union):
            return self.of(next(one for one in inside if one is not type(None)), name)
        if origin is tuple:
            inside = (inside[0], inside[0]) if inside[-1] is Ellipsis else inside
            return tuple(self.of(one, name) for one in inside)
        return {
            bool: True,
            int: next(self.count) % 19 + 1,
            str: f"{name} {next(self.count)}",
            float: next(self.count) + 0.5,
        }[kind]


def differences(a, b, at="plan"):
    if dataclasses.is_dataclass(a):
        for one in dataclasses.fields(a):
            yield from differences(getattr(a, one.name), getattr(b, one.name), f"{at}.{one.name}")
    elif isinstance(a, tuple):
        if not isinstance(b, tuple) or len(a) != len(b):
            yield at
        else:
            for k, (one, two) in enumerate(zip(a, b, strict=True)):
                yield from differences(one, two, f"{at}[{k}]")
    elif isinstance(a, float) and isinstance(b, float):
        if not math.isclose(a, b, rel_tol=1e-9):
            yield at
    elif a != b:
        yield at


@pytest.fixture(scope="module")
def site():
    return read_site(REPO / "sample_sites" / "alder-court")


@pytest.fixture
def full():
    plan = Filled().of(Plan, "plan")
    flows = tuple((one.id, 2.5 + k) for k, one in enumerate(plan.sources))  # each is written with its source
    # a line is known for one under pressure by its figures, which no line by gravity has
    lines = tuple(dataclasses.replace(line, pumped=None) for line in plan.lines)
    return dataclasses.replace(plan, inflows=Inflows(flows=flows), lines=lines)


def test_every_field_of_a_plan_comes_back(full, site):
    """A field that is added to a value and not written, or written and not read, is named here."""
    assert [*differences(full, plan_as_stored(plan_json(full, site)))] == []


def test_what_is_read_back_is_written_again_byte_for_byte(full, site):
    once = plan_json(plan_as_stored(plan_json(full, site)), site)
    assert plan_json(plan_as_stored(once), site) == once


def test_what_is_not_known_comes_back_as_not_known(full, site):
    bare = dataclasses.replace(
        full,
        water=None,
        stamp=None,
        lines=(dataclasses.replace(full.lines[0], belly=None, doubt=None, spare=math.nan),),
    )
    back = plan_as_stored(plan_json(bare, site))
    assert back.water is None
    assert back.stamp is None
    assert back.lines[0].belly is None
    assert back.lines[0].doubt is None
    assert math.isnan(back.lines[0].spare)


def test_a_key_twice_is_refused_and_named(full, site):
    text = plan_json(full, site).replace(b'"crs":', b'"crs": "EPSG:1", "crs":', 1)
    with pytest.raises(InputError, match="'crs' twice"):
        parsed(text)


@pytest.mark.parametrize("number", [b"NaN", b"Infinity", b"-Infinity", b"1e999"])
def test_what_is_no_number_is_refused(full, site, number):
    text = plan_json(full, site)
    record = json.loads(text)
    shown = json.dumps(record["lines"][0]["vertices"][0]["invert"]).encode()
    with pytest.raises(InputError, match=r"plan\.json"):
        plan_as_stored(text.replace(b'"invert": ' + shown, b'"invert": ' + number, 1))


@pytest.mark.parametrize(
    ("at", "value", "named"),
    [
        (("lines", 0, "vertices", 1, "x"), 2e7, "km from the rest"),
        (("lines", 0, "vertices", 1, "station"), 1e9, "vertices 2, station"),
        (("lines", 0, "reaches", 0, "bedding"), "dig clean; compacted stone beside it", "bedding"),
        (("lines", 0, "vertices", 0, "fittings", 0, "kind"), "no cleanout", "kind"),
        (("lines", 0, "reaches", 0, "vehicle"), "tank", "vehicle"),
        (("lines", 0, "pipe", "id_m"), 0.0, "id_m"),
        (("low_spots", 0, "polygon"), [[["a", 1]]], "polygon"),
        (("water", "storm", "steps"), [[1, 2]], "steps"),
        (("checks", 0, "status"), "fine", "status"),
    ],
)
def test_what_no_plan_can_hold_is_refused_where_it_stands(full, site, at, value, named):
    record = json.loads(plan_json(full, site))
    one = record
    for key in at[:-1]:
        one = one[key]
    one[at[-1]] = value
    with pytest.raises(InputError, match=named):
        stored_plan(record)
