"""Ways whose fall is enough and which something else bars.

What the plan says of them agrees with what is judged of it.
"""

import json

import pytest

COVER, TOP = 0.3048, (4.215 - 0.120) * 0.0254  # m: 12 in; top of 4 in SDR 35 above its invert (ASTM D3034)


@pytest.mark.parametrize(("kind", "invert"), [("daylight_outlet", 98.3), ("curb_outlet", 98.7)])
def test_a_way_that_a_drop_bars_states_its_margin(plan_once, even_ground, tmp_path, kind, invert):
    """42 m at 1 % from under the start's cover.

    What is left over the outlet's invert is stated, and no check contradicts it.
    """
    features = [
        even_ground.point("downspout", "DS", even_ground.EAST, 12.0, roof_area=40.0),
        even_ground.point(kind, "Out", even_ground.WEST, 12.0, invert=invert),
    ]
    made = plan_once(even_ground.site_folder(tmp_path / "site", features), "--layouts", "1")
    record = json.loads((made.folder / "plan.json").read_text("utf-8"))
    (way,) = record["candidates"]
    assert way["feasible"] is False
    assert "its fall is enough" in way["reason"]
    assert way["margin"] == pytest.approx(way["fall_available"] - way["fall_needed"], abs=2e-6)
    assert way["fall_needed"] == pytest.approx(0.01 * 42.0, abs=1e-6)
    assert 0 < way["margin"] <= even_ground.ground(even_ground.EAST) - COVER - TOP - invert - 0.42 + 1e-6
    assert [one["status"] for one in record["checks"] if one["rule"] == "numbers-agree"] in ([], ["pass"])
    assert [one["short_by"] for one in record["attempts"]] == [0.0]
