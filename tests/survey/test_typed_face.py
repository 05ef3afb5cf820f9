"""A curb's face that is typed and shot: two that differ are asked about."""

from __future__ import annotations

import json

import pytest

from siteplan.errors import InputError
from siteplan.survey.folder import read_site


@pytest.mark.parametrize(("typed", "asked"), [(0.30, True), (0.165, False)])
def test_a_typed_face_that_shots_deny_is_asked_about(metric_lot, typed, asked):
    # the lot's own shots: TC 99.60 less FL 99.44 is 0.160 m
    folder = metric_lot()
    path = folder / "features.geojson"
    held = json.loads(path.read_text(encoding="utf-8"))
    for one in held["features"]:
        if one["properties"]["name"] == "Curb hole":
            one["properties"]["curb_height"] = typed
    path.write_text(json.dumps(held), encoding="utf-8")
    if not asked:
        read_site(folder)
        return
    with pytest.raises(InputError, match=r"curb_height 0\.300 m.*0\.160 m"):
        read_site(folder)
    toml = folder / "site.toml"
    toml.write_text('confirm = ["Curb hole, curb_height"]\n' + toml.read_text(encoding="utf-8"), encoding="utf-8")
    assert any("Curb hole, curb_height was confirmed" in note for note in read_site(folder).assumptions)
