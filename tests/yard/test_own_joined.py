"""Lines of one's own that join a line of the planner's: laid as drawn, the trunk held down to them, or told why not."""

import importlib.util
import json
import math
import re
from pathlib import Path

import pytest

from siteplan.cli.main import main

WEST, EAST = 6.0, 48.0


def verified(folder, record_file):
    """What the outside verifier says of a plan, if it is at hand."""
    file = Path(__file__).resolve().parents[3] / "shared" / "check" / "verify_plan.py"
    if not file.exists():
        pytest.skip("the outside verifier is not at hand")
    spec = importlib.util.spec_from_file_location("verify_plan", file)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.verify(folder, record_file)[0]


@pytest.fixture
def planned(tmp_path, plan_once, even_ground):
    def make(*drains):
        sources = [
            even_ground.point("downspout", "A", EAST, 12.0, roof_area=40.0),
            even_ground.point("downspout", "B", EAST, 4.0, roof_area=40.0),
            even_ground.point("downspout", "C", EAST, 1.5, roof_area=40.0),
            even_ground.point("tie_in", "Old", WEST, 12.0, invert=99.2, diameter_mm=150, takes_lps=10),
        ]
        folder = even_ground.site_folder(tmp_path / "site", [*sources, *drains])
        made = plan_once(folder)
        return folder, made, json.loads((made.folder / "plan.json").read_text("utf-8"))

    return make


def by_source(record):
    names = {one["id"]: one["name"] for one in record["sources"]}
    return {names[one["from"]]: one for one in record["lines"]}


def test_a_drawn_line_joins_the_planners_which_is_held_down_to_it(planned, even_ground, capsys):
    """B falls 2 % to 99.90 on A's line, which would lie at 100.2 there; C joins B's as drawn."""
    length = math.hypot(EAST - 38.0, 8.0)
    folder, made, record = planned(
        even_ground.drain(
            [(EAST, 4.0), (38.0, 12.0)], name="Staked", start="B", end="A", inverts=[99.9 + 0.02 * length, 99.9]
        ),
        even_ground.drain([(EAST, 1.5), (43.0, 8.1)], start="C", end="B"),
    )
    lines = by_source(record)
    trunk, drawn, further = lines["A"], lines["B"], lines["C"]
    assert (trunk["own"], drawn["own"], further["own"]) == (False, True, True)
    assert (drawn["to"], further["to"]) == (trunk["id"], drawn["id"])
    assert set(trunk["sources"]) == {one["id"] for one in record["sources"]}
    # exactly there, on the inverts given
    low, high = drawn["vertices"][0], drawn["vertices"][-1]
    assert (low["x"], low["y"]) == pytest.approx((38.0, 12.0), abs=0.5)
    assert low["invert"] == pytest.approx(99.9, abs=2e-6)
    assert high["invert"] == pytest.approx(99.9 + 0.02 * length, abs=2e-6)
    wye = min(trunk["vertices"], key=lambda v: math.dist((v["x"], v["y"]), (low["x"], low["y"])))
    assert math.dist((wye["x"], wye["y"]), (low["x"], low["y"])) < 1e-3
    assert wye["invert"] <= 99.9 + 1e-6
    assert not [one for one in record["checks"] if one["status"] == "fail"]
    told = [one for own in record["own_lines"] for one in own["drawn"]]
    assert [(one["line"], one["inverts"], one["off"]) for one in told] == [
        (drawn["id"], "given", None),
        (further["id"], "settled", None),
    ]
    assert f"{drawn['id']} lies as drawn (Staked), into the line of A, its inverts as given" in " ".join(
        made.said.split()
    )
    assert verified(folder, made.folder / "plan.json") == []
    capsys.readouterr()
    assert main(["review", str(made.folder), str(folder)]) == 0


def test_one_that_ends_off_the_line_is_not_laid_and_says_by_how_much(planned, even_ground):
    """A's line runs straight at 12 m north; a line that ends at 9 m north ends 3 m off it."""
    _, made, record = planned(even_ground.drain([(EAST, 4.0), (38.0, 9.0)], name="Staked", start="B", end="A"))
    assert not any(one["own"] for one in record["lines"])
    assert {key for one in record["lines"] for key in one["sources"]} == {one["id"] for one in record["sources"]}
    (told,) = [one for own in record["own_lines"] for one in own["drawn"]]
    assert (told["line"], told["inverts"]) == (None, "none")
    assert 0.5 < told["off"] <= 3.01
    said = " ".join(made.said.split())
    away = re.search(r"NOT LAID AS DRAWN Staked ends ([\d.]+) m from the line of A", said)
    assert away is not None
    assert float(away[1]) == pytest.approx(told["off"], abs=0.006)


@pytest.mark.parametrize(
    ("told", "message"),
    [
        ({"start": "B", "end": "B"}, '"B" is the line itself'),
        ({"start": "B", "end": "A", "mode": "guide"}, "is a guide that joins A. Draw both fixed"),
        ({"start": "B", "end": "Z"}, '"Z" is no outlet of this site'),
    ],
)
def test_what_cannot_be_joined_is_told(told, message, tmp_path, even_ground, capsys):
    sources = [
        even_ground.point("downspout", "A", EAST, 12.0, roof_area=40.0),
        even_ground.point("downspout", "B", EAST, 4.0, roof_area=40.0),
        even_ground.point("tie_in", "Old", WEST, 12.0, invert=99.2, diameter_mm=150, takes_lps=10),
    ]
    folder = even_ground.site_folder(
        tmp_path / "site", [*sources, even_ground.drain([(EAST, 4.0), (38.0, 12.0)], **told)]
    )
    assert main(["plan", str(folder), "--out", str(tmp_path / "plan")]) == 2
    assert message in capsys.readouterr().err


@pytest.mark.parametrize(("start", "lets_in"), [(100.2, True), (100.35, False)])
def test_an_old_pipe_that_brings_water_is_led_on_as_drawn(start, lets_in, tmp_path, plan_once, even_ground, capsys):
    """An old pipe ends at 100.20 with 2 L/s.

    A line from there into another takes it on, unless it begins higher than its water comes.
    """
    folder = even_ground.site_folder(
        tmp_path / "site",
        [
            even_ground.point("area_drain", "Old end", EAST, 12.0, invert=100.2, flow=2),
            even_ground.point("tie_in", "Old", WEST, 12.0, invert=99.2, diameter_mm=150, takes_lps=10),
            even_ground.drain([(EAST, 12.0), (WEST, 12.0)], start="Old end", end="Old", inverts=[start, 99.26]),
        ],
    )
    made = plan_once(folder)
    record = json.loads((made.folder / "plan.json").read_text("utf-8"))
    (line,) = record["lines"]
    assert line["own"]
    assert line["vertices"][-1]["invert"] == pytest.approx(start, abs=2e-6)
    fails = [one for one in record["checks"] if one["status"] == "fail" and one["subject"] == line["id"]]
    if lets_in:
        assert not fails
        (takes,) = [one for one in record["checks"] if one["rule"] == "tie-in-takes"]
        assert (takes["status"], takes["value"]) == ("pass", pytest.approx(2.0))
    else:
        (found,) = [one for one in fails if one["rule"] == "continuous-fall"]
        assert "starts 0.150 m over the 100.200 m at which Old end lets water in" in found["message"]
    capsys.readouterr()
    assert main(["review", str(made.folder), str(folder)]) == (0 if lets_in else 1)
