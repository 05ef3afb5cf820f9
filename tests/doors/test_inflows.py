"""What sources bring.

Worked out for the plan from what the survey holds, stated in plan.json, and worked out again by the checks.
"""

from __future__ import annotations

import json
from dataclasses import fields, replace

import pytest
from sites_builder import build, feature, lot_features

from siteplan.checks.flows import source_flow
from siteplan.checks.judge import findings
from siteplan.checks.scene import scene_of
from siteplan.cli.main import main
from siteplan.site import Site
from siteplan.survey.folder import read_site
from siteplan.units import GALLON_PER_MINUTE
from siteplan.values.water_ends import Inflows, Source
from siteplan.waterworks.inflows import inflows_told


def told_flows(read):
    told = inflows_told(read)
    return [told.of(source.id) for source in read.sources]


def test_flow_is_roof_times_rain_and_pump_rate(site):
    assert told_flows(read_site(site())) == pytest.approx([72 * 0.1 / 3600, 72 * 0.1 / 3600, 0.002])
    feet = told_flows(read_site(site(length_unit="ft", elevation_unit="ft")))
    # 0.01039 gpm per in/h and sq ft, the figure of the trade: 96.23 = 231 * 60 / 144
    assert feet[0] == pytest.approx(72 / 0.3048**2 * 5 / 96.25 * 6.30902e-5, rel=1e-3)
    assert feet[2] == pytest.approx(32 * 231 * 0.0254**3 / 60)
    dry = read_site(site(changes={"rainfall.intensity": None}))
    assert told_flows(dry) == [None, None, 0.002]
    assert "no rainfall is given: what the downspouts carry is not known" in dry.assumptions


def test_a_site_carries_no_flow_that_was_worked_out():
    assert {"flow", "flows", "inflows"}.isdisjoint({one.name for one in (*fields(Source), *fields(Site))})


@pytest.fixture(scope="module")
def gathered(plan_once, tmp_path_factory):
    """The lot with a grate in the lawn beside its roofs and its sump, and an area drain."""
    folder = tmp_path_factory.mktemp("gathered") / "site"
    more = [
        feature("inlet", (26, 18), "Grate"),
        feature("inlet", (30, 22), "Yard", roof_area=55.0, cover="asphalt"),
        feature("area_drain", (28, 6), "Court", drained_area=30.0),
    ]
    return plan_once(build(folder, features=[*lot_features("m"), *more]))


def test_the_plan_states_what_each_source_brings(gathered):
    stated = {
        one["name"]: one["flow_lps"] for one in json.loads((gathered.folder / "plan.json").read_text())["sources"]
    }
    rain = 0.1 / 3600
    assert stated["DS-1"] == pytest.approx(72 * rain * 1e3, abs=1e-5)
    assert stated["SUMP-1"] == 2.0
    assert stated["Yard"] > 0
    assert stated["Court"] > 0
    assert stated["Grate"] > 0


def test_the_checks_work_the_flows_out_again_from_the_survey(gathered):
    """With nothing stated, all but the ground about a grate is found from the survey alone, and comes to the same."""
    blank = scene_of(replace(gathered.plan, inflows=Inflows()), gathered.site)
    for source in gathered.site.sources:
        own = source_flow(blank, source)
        if source.name == "Grate":
            assert own is None
        else:
            assert own == pytest.approx(gathered.plan.inflows.of(source.id), rel=1e-4)


@pytest.mark.parametrize(
    ("name", "by"),
    [("DS-2", 1.01), ("SUMP-1", 0.99), ("Court", 1.01), ("Yard", 0.99), ("Grate", 500.0), ("Grate", 0.001)],
)
def test_a_flow_that_the_survey_does_not_bear_is_told(gathered, name, by):
    source = next(one for one in gathered.site.sources if one.name == name)
    flows = tuple((one, flow * by if one == source.id else flow) for one, flow in gathered.plan.inflows.flows)
    found = findings(replace(gathered.plan, inflows=Inflows(flows=flows)), gathered.site)
    assert [one.status for one in found if one.rule == "numbers-agree" and one.subject == source.id] == ["fail"]


def test_a_review_knows_the_ground_about_a_grate(gathered, tmp_path, capsys):
    record = json.loads((gathered.folder / "plan.json").read_text())
    for one in record["sources"]:
        if one["name"] == "Grate":
            one["flow_lps"] *= 1.05
    (tmp_path / "plan.json").write_text(json.dumps(record))
    assert main(["review", str(tmp_path), str(gathered.at), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)["findings"]
    grate = next(one.id for one in gathered.site.sources if one.name == "Grate")
    assert any(one["rule"] == "numbers-agree" and one["subject"] == grate and one["status"] == "fail" for one in told)


def test_a_review_judges_by_flows_as_the_plan_states_them(gathered):
    """A sixth digit more of a small inlet's flow moves the fourth of a velocity.

    Honest plans were told that they state another one.
    """
    from siteplan.review.derived import as_stated, own_inflows

    found, stated = own_inflows(gathered.site), gathered.plan.inflows
    assert found.flows != stated.flows  # worked out to more digits than a plan states
    assert as_stated(found).flows == stated.flows


def test_a_leader_passes_what_the_speed_of_falling_water_gives():
    from siteplan.checks.pipe_flow import leader

    # 4 in at 7/24: speed 3.0 (q/D)^(2/5) ft/s on 7/24 of 12.566 in2; at q = 143.5 gpm that is 12.56 ft/s, and 3.665 in2
    # at 12.56 ft/s is 143.5 gpm
    assert leader(4 * 0.0254) / GALLON_PER_MINUTE == pytest.approx(143.5, abs=0.1)
    # the closed form that codes print, 27.8 r^(5/3) D^(8/3), stands within its last figure
    assert leader(3 * 0.0254) / GALLON_PER_MINUTE == pytest.approx(27.8 * (7 / 24) ** (5 / 3) * 3 ** (8 / 3), rel=0.003)
