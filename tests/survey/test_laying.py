"""[pipes], [costs] and [trench] of site.toml."""

from __future__ import annotations

import math

import pytest

from siteplan.books.prices import DEFAULT_PRICES, PIPE_PRICES
from siteplan.survey.laying import laying_of
from siteplan.units import FOOT, INCH


def read(**tables):
    faults = []
    return laying_of(tables, faults), [str(fault) for fault in faults]


def test_nothing_said_is_the_default():
    laying, faults = read()
    assert faults == []
    assert laying.prices == DEFAULT_PRICES
    assert laying.pipe_prices == PIPE_PRICES
    assert (laying.backfill, laying.vehicle, laying.frost) == ("settled", "car", None)
    assert len(laying.stocks) > 10


def test_what_is_said_is_taken_in_metres():
    laying, faults = read(
        trench={
            "frost_depth_in": 42,
            "house_backfill": "fresh",
            "house_backfill_depth_ft": 6,
            "wet_layer_mm": 100,
            "vehicle": "truck",
            "wet_soil": "organic",
        },
        costs={"driveway": 20, "coupling": 0.5, "pipe": {"pvc_sch40": 0.9}},
        pipes={
            "ours": {
                "kind": "pvc_sdr26",
                "title": "SDR 26",
                "like": "pvc_sdr35 4 in",
                "pipe_stiffness_psi": 115,
                "source": "the yard's sheet",
            }
        },
    )
    assert faults == []
    assert laying.frost == pytest.approx(42 * INCH)
    assert laying.backfill_depth == pytest.approx(6 * FOOT)
    assert laying.wet_layer == pytest.approx(0.1)
    assert (laying.backfill, laying.vehicle, laying.wet_soil) == ("fresh", "truck", "organic")
    assert laying.prices == DEFAULT_PRICES._replace(driveway=20)
    assert laying.coupling == 0.5
    assert laying.pipe_prices["pvc_sch40"] == 0.9
    assert laying.pipe_prices["pvc_sdr35"] == PIPE_PRICES["pvc_sdr35"]
    own = next(stock for stock in laying.stocks if stock.pipe.kind == "pvc_sdr26")
    assert own.is_heavy


@pytest.mark.parametrize(
    ("tables", "said"),
    [
        (
            {"trench": {"frost_dept_in": 3}},
            "site.toml, [trench] frost_dept_in: is not known here. Did you mean frost_depth_in?",
        ),
        ({"trench": {"vehicle": "tank"}}, 'site.toml, [trench] vehicle: is "tank". Write car or truck.'),
        ({"trench": {"wet_soil": "peat"}}, '[trench] wet_soil: is "peat". Write mineral or organic.'),
        ({"trench": {"house_backfill": 3}}, "[trench] house_backfill: is 3. Write settled or fresh."),
        ({"trench": {"frost_depth_in": -1}}, "[trench] frost_depth_in: is -1. Give a number from 0"),
        ({"trench": {"frost_depth_in": math.nan}}, "[trench] frost_depth_in: is nan."),
        ({"trench": {"frost_depth_in": 3, "frost_depth_ft": 3}}, "frost_depth_ft: is given twice"),
        ({"costs": {"drivway": 3}}, "[costs] drivway: is no cost known here. Did you mean driveway?"),
        ({"costs": {"driveway": "dear"}}, '[costs] driveway: is "dear". Give a number'),
        (
            {"costs": {"pipe": {"pvc_sch4": 3}}},
            "[costs.pipe] pvc_sch4: is no kind of pipe here. Did you mean pvc_sch40?",
        ),
        ({"costs": {"pipe": 3}}, "[costs] pipe: is no table"),
        ({"pipes": {"ours": {"kind": "x"}}}, "site.toml, [pipes] ours: has no source"),
        ({"pipes": 3}, "site.toml, pipes: is no section"),
    ],
)
def test_a_fault_is_one_line_that_says_how_to_mend_it(tables, said):
    _, faults = read(**tables)
    assert len(faults) == 1
    assert said in faults[0]


def test_faults_are_gathered():
    _, faults = read(trench={"a": 1, "vehicle": "tank"}, costs={"b": 1}, pipes={"c": 1})
    assert len(faults) == 4
