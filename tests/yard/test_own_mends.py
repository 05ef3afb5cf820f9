"""The least change that mends a drawn line, on even ground.

How far it moves is worked out by hand, and the mend is judged again.
"""

import json

import pytest

TOP = (4.215 - 0.120) * 0.0254  # m: top above the invert of 4 in SDR 35 (ASTM D3034)
LEVEL = 99.2 + 0.8 * (0.15 - 3.975 * 0.0254)  # where it comes into the old pipe of 150 mm
COVER, DEPTH = 12 * 0.0254, 4.5 * 0.3048  # m: the least cover and the greatest depth of docs/rules.md
EAST, WEST = 48.0, 6.0  # ground there: 100.96 and 100.12 m


@pytest.fixture(scope="module")
def planned(tmp_path_factory, plan_once, even_ground):
    def make(corners=((EAST, 12.0), (WEST, 12.0)), extra=(), roof=40.0, **told):
        features = [
            even_ground.point("downspout", "DS", EAST, 12.0, roof_area=roof),
            even_ground.point("tie_in", "Old", WEST, 12.0, invert=99.2, diameter_mm=150, takes_lps=20),
            *extra,
            even_ground.drain(corners, start="DS", end="Old", **told),
        ]
        made = plan_once(even_ground.site_folder(tmp_path_factory.mktemp("mend") / "site", features))
        record = json.loads((made.folder / "plan.json").read_text("utf-8"))
        (own,) = record["own_lines"]
        return made, own

    return make


def test_a_line_too_high_is_lowered_by_what_its_cover_lacks(planned):
    made, own = planned(inverts=[100.7, 99.3])
    # at its upper end 100.96 - 12 in - top is the highest invert: it must come down by so much, and nothing more
    lacks = 100.7 - (100.96 - COVER - TOP)
    (mend,) = own["mends"]
    assert own["fails"] == ["min-cover"]
    assert (mend["proven"], mend["left"]) == (True, [])
    (change,) = mend["changes"]
    assert (change["kind"], change["line"]) == ("inverts", "L1")
    assert lacks <= change["amount"] + 1e-6 <= lacks + 0.005 + 1e-5  # rounded up to the 5 mm that a crew sets
    vertices = mend["lines"][0]["vertices"]
    assert vertices[-1]["invert"] == pytest.approx(100.7 - change["amount"], abs=1e-5)
    assert "Laid so and judged again, it breaks no rule" in " ".join(made.said.split())


def test_a_line_too_flat_is_tilted_by_what_it_lacks(planned):
    # 0.5 % over 42 m lacks 0.21 m of 1 %; its lower end is pinned to the old pipe, so its upper one takes all of it
    _, own = planned(grade_percent=0.5)
    (mend,) = own["mends"]
    assert own["fails"] == ["max-depth", "min-grade"]
    assert mend["proven"]
    ends = [v["invert"] for v in mend["lines"][0]["vertices"]]
    assert ends[0] == pytest.approx(LEVEL, abs=1e-5)
    assert ends[-1] - ends[0] == pytest.approx(0.42, abs=0.006)
    assert mend["changes"][0]["amount"] == pytest.approx(0.21, abs=0.006)


def test_a_line_through_a_house_goes_round_it_by_the_nearer_side(planned, even_ground):
    # the house stands 1 m south and 3 m north of the line: round its south side, with the clearance asked for and 0.1 m
    _, own = planned(extra=[even_ground.area("building", "House", 20.0, 11.0, 30.0, 15.0)], inverts=[100.2, 99.3])
    (mend,) = own["mends"]
    assert own["fails"] == ["clear-of-building"]
    assert mend["proven"]
    (change,) = [one for one in mend["changes"] if one["kind"] == "way"]
    vertices = mend["lines"][0]["vertices"]
    past = [v["y"] for v in vertices if 19.0 < v["x"] < 31.0]
    assert max(past) < 11.0  # its south side
    assert change["amount"] == pytest.approx(12.0 - min(v["y"] for v in vertices), abs=0.02)
    assert 1.0 < change["amount"] < 2.0


def test_a_size_too_small_is_taken_larger_and_no_larger_than_it_must(planned):
    # 400 m2 under 100 mm/h bring 11.1 L/s; at 2.24 % 4 in carries some 9 L/s at its design fill and 6 in 26 (Manning, n
    # 0.011)
    _, own = planned(roof=400.0, inverts=[100.2, LEVEL + 0.02], diameter_in=4)
    (mend,) = own["mends"]
    assert "run-capacity" in own["fails"]
    assert mend["proven"]
    assert "size" in [one["kind"] for one in mend["changes"]]
    assert mend["lines"][0]["pipe"] == {"kind": "pvc_sdr35", "nominal": "6 in"}


def test_a_lawful_line_needs_no_mend(planned):
    made, own = planned(inverts=[100.2, 99.3])
    assert (own["fails"], own["mends"]) == ([], [])
    page = (made.folder / "map.html").read_text("utf-8")
    assert "Dark edges: laid as a person drew it" in page  # the key shows what is on the map alone
    assert "L1 lies as drawn, its inverts as given" in page
    assert made.code == 0
