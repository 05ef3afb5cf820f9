"""An outlet drawn inside a house is refused before anything is searched.

No way, no finer net, no cure can end there.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

from siteplan.books.pipes import pipe
from siteplan.routes.outlets import named_outlets
from siteplan.survey.folder import read_site
from siteplan.yard import cures, groups, pairs


@pytest.fixture
def sites():
    if "sites_builder" not in sys.modules:
        place = Path(__file__).parents[1] / "doors" / "sites_builder.py"
        spec = importlib.util.spec_from_file_location("sites_builder", place)
        module = importlib.util.module_from_spec(spec)
        sys.modules["sites_builder"] = module
        spec.loader.exec_module(module)
    return sys.modules["sites_builder"]


def test_nothing_is_searched_for_an_outlet_in_a_house(sites, tmp_path, monkeypatch):
    features = [one for one in sites.lot_features() if "outlet" not in one["properties"]["kind"]]
    features = [one for one in features if one["properties"]["kind"] != "sump"]
    site = read_site(
        sites.build(tmp_path / "site", features=[*features, sites.feature("daylight_outlet", (16, 14), "IN")])
    )
    searched = []
    direct, scene = pairs.direct_tree, groups.yard_scene
    monkeypatch.setattr(pairs, "direct_tree", lambda *a: searched.append(a[2].name) if not a[2].found else direct(*a))

    def scene_of(*given, **named):
        if named.get("cell"):
            searched.append("finer net")
        return scene(*given, **named)

    monkeypatch.setattr(groups, "yard_scene", scene_of)
    for name in ("_longer_zone", "_less_cover", "_lower_outlet", "_fill", "_deeper", "_lift"):
        monkeypatch.setattr(cures, name, lambda *_, name=name: searched.append(name) or ())
    named = named_outlets(site)
    laid = groups.lay_out(site, named, (), pipe(), site.laying.prices)
    attempts = cures.attempts_of(site, named, (), pipe(), laid.candidates, ())
    assert searched == []
    refused = [one for one in laid.candidates if one.outlet == named[0].id]
    assert len(refused) == len(site.sources)
    assert all("where no line may run" in one.reason for one in refused)
    assert {one.outlet for one in attempts} == {named[0].id}
