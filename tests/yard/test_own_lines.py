"""Lines of one's own: laid as drawn, judged as the rest, set beside the planner's choice."""

import itertools
import json
import math
import shutil
from pathlib import Path

import pytest

from siteplan.cli.main import main

SITE = Path(__file__).parents[2] / "sample_sites" / "alder-court"
FOOT = 0.3048006096012192  # m: US survey foot, 1200/3937; the sample's unit
DS_4, SLOPE = [1210066.0, 205086.0], [1210034.0, 205128.0]
DS_2, CURB = [1210066.0, 205054.0], [1210028.0, 204989.5]
STAKED = [DS_4, [1210055.0, 205110.0], SLOPE]


def with_drains(folder, *drains):
    shutil.copytree(SITE, folder)
    file = folder / "features.geojson"
    record = json.loads(file.read_text("utf-8"))
    record["features"] += [
        {
            "type": "Feature",
            "properties": {"kind": "drain", **told},
            "geometry": {"type": "LineString", "coordinates": corners},
        }
        for corners, told in drains
    ]
    file.write_text(json.dumps(record), "utf-8")
    return folder


@pytest.fixture(scope="module")
def drawn(tmp_path_factory, plan_once):
    """Plan Alder Court with one drawn line: the record, and that line in it."""

    def make(corners, **told):
        folder = with_drains(tmp_path_factory.mktemp("drawn") / "site", (corners, told))
        made = plan_once(folder)
        record = json.loads((made.folder / "plan.json").read_text("utf-8"))
        return made, folder, record, record["lines"][0]

    return make


def fails_of(record, line):
    return {one["rule"] for one in record["checks"] if one["status"] == "fail" and one["subject"].split(":")[0] == line}


def lengths(corners):
    return [FOOT * math.dist(a, b) for a, b in itertools.pairwise(corners)]


def test_a_drawn_line_lies_exactly_there_with_its_inverts(drawn, capsys):
    made, folder, record, line = drawn(STAKED, **{"from": "DS-4", "to": "Rear slope", "inverts": [97.6, 96.8, 96.0]})
    assert (line["own"], line["kind"]) == (True, "gravity")
    unit = FOOT if record["site"]["elevation_unit"] == "us-ft" else 0.3048
    ends = {round(v["station"], 3): v["invert"] for v in line["vertices"]}
    below, above = lengths(STAKED)[::-1]
    for station, asked in ((0.0, 96.0), (below, 96.8), (below + above, 97.6)):
        got = min(ends, key=lambda s: abs(s - station))
        assert got == pytest.approx(station, abs=2e-3)
        assert ends[got] == pytest.approx(asked * unit, abs=2e-6)
    assert "outlet-control" in fails_of(record, "L1")  # 96.00 lies below what the slope asks for
    assert "clear-of-no-dig" in fails_of(record, "L1")  # it runs over the septic field
    served = {key for one in record["lines"] for key in one["sources"]}
    assert served == {one["id"] for one in record["sources"]}
    assert any(one.startswith("L1 lies as drawn, its inverts as given") for one in record["assumptions"])
    assert any(one.startswith("L1 costs ") and "would lay for DS-4 alone" in one for one in record["assumptions"])
    main(["review", str(made.folder), str(folder), "--json"])
    found = json.loads(capsys.readouterr().out)["findings"]
    theirs = {(one["rule"], one["subject"]) for one in record["checks"] if one["status"] == "fail"}
    assert {(one["rule"], one["subject"]) for one in found if one["status"] == "fail"} <= theirs


def test_a_grade_is_held_though_it_breaks_the_least(drawn):
    # drawn from the outlet up: the ends say which way the water runs
    _, _, record, line = drawn(STAKED[::-1], **{"from": "DS-4", "to": "Rear slope", "grade_percent": 0.4})
    first, last = line["vertices"][0], line["vertices"][-1]
    assert (last["invert"] - first["invert"]) / last["station"] == pytest.approx(0.004, abs=1e-7)
    assert first["invert"] == pytest.approx(
        next(o["control"] for o in record["outlets"] if o["name"] == "Rear slope"), abs=2e-6
    )
    assert "min-grade" in fails_of(record, "L1")


def test_a_line_drawn_through_a_house_is_laid_and_fails(drawn):
    _, _, record, line = drawn(
        [DS_2, [1210045.0, 205070.0], CURB], name="Short way", **{"from": "DS-2", "to": "Curb hole"}
    )
    assert line["own"]
    assert fails_of(record, "L1") == {"clear-of-building"}
    assert line["state"] == "fails"
    assert any("L1 lies as drawn (Short way), its inverts settled here" in one for one in record["assumptions"])


def test_a_guide_is_followed_where_it_can_be(drawn):
    way = [DS_2, [1210075.0, 205040.0], [1210060.0, 205010.0], CURB]
    _, _, record, line = drawn(way, name="Guide", mode="guide", **{"from": "DS-2", "to": "Curb hole"})
    assert (line["own"], line["to"]) == (False, next(o["id"] for o in record["outlets"] if o["name"] == "Curb hole"))
    assert not fails_of(record, "L1")
    assert any(one.startswith("L1 follows a guide (Guide)") for one in record["assumptions"])


@pytest.mark.slow
def test_without_its_outlet_a_drawn_line_is_out_of_play(drawn, plan_once):
    _, folder, _, _ = drawn(STAKED, **{"from": "DS-4", "to": "Rear slope", "inverts": [97.6, 96.8, 96.0]})
    record = json.loads((plan_once(folder, "--without", "Rear slope").folder / "plan.json").read_text("utf-8"))
    assert not any(line["own"] for line in record["lines"])


ENDS = {"from": "DS-4", "to": "Rear slope"}


@pytest.mark.parametrize(
    ("corners", "told", "message"),
    [
        (STAKED, {"from": "DS-9", "to": "Rear slope"}, '"DS-9" is no source of this site. Did you mean DS-'),
        (
            STAKED,
            {"from": "DS-4", "to": "Front"},
            '"Front" is no outlet of this site. Name one of Curb hole, Rear slope.',
        ),
        (STAKED, {"to": "Rear slope"}, "does not say where it comes from. Give from, the name of a source."),
        (STAKED, {"from": "DS-4"}, "does not say where it goes to. Give to, the name of an outlet."),
        (STAKED, {**ENDS, "inverts": [97.6, 96.8]}, "inverts: has 2 elevations for 3 corners"),
        (STAKED, {**ENDS, "inverts": "97.6, x, 96"}, "inverts: is"),
        (STAKED, {**ENDS, "inverts": [97.6, 96.8, 96.0], "grade_percent": 1}, "gives both inverts and grade_percent"),
        (STAKED, {**ENDS, "grade_percent": -2}, 'grade_percent: is "-2". Give percent, above 0 to 100.'),
        (STAKED, {**ENDS, "mode": "loose"}, 'mode: is "loose". Write fixed or guide.'),
        (STAKED, {**ENDS, "pipe": "pvc_sdr3"}, '"pvc_sdr3" is no kind of pipe here. Did you mean pvc_sdr35?'),
        ([DS_4, [1210050.0, 205120.0]], ENDS, "from Rear slope. Draw it to within"),
    ],
)
def test_what_cannot_be_laid_is_told(corners, told, message, tmp_path, capsys):
    folder = with_drains(tmp_path / "site", (corners, told))
    assert main(["plan", str(folder), "--out", str(tmp_path / "plan")]) == 2
    assert message in capsys.readouterr().err
    assert not (tmp_path / "plan").exists()


def test_one_source_has_one_drawn_line(tmp_path, capsys):
    folder = with_drains(tmp_path / "site", (STAKED, ENDS), (STAKED, {**ENDS, "name": "Again"}))
    assert main(["plan", str(folder), "--out", str(tmp_path / "plan")]) == 2
    assert "is a second line from DS-4. Keep one." in capsys.readouterr().err
