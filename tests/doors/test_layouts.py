"""Other layouts beside the plan.

What the table, the map, the csv and the review say of them, and taking another by its number.
"""

from __future__ import annotations

import csv
import io
import itertools
import json
import math
import re
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from siteplan.cli.main import main
from siteplan.layouts import usual
from siteplan.values.other_layouts import Aim

pytestmark = pytest.mark.usefixtures("usual_layouts")

REPO = Path(__file__).parents[2]
SITE = REPO / "sample_sites" / "alder-court"
VERIFY = REPO.parent / "shared" / "check" / "verify_plan.py"
STANDARD = 4 * 0.3048  # m: trench depth from which a way out is needed, 29 CFR 1926.651(c)(2)


@pytest.fixture
def plain(plan_once):
    return plan_once(SITE)


@pytest.fixture
def second(plan_once):
    return plan_once(SITE, "--choose", "2")


def _record(made):
    return json.loads((made.folder / "plan.json").read_text("utf-8"))


def _trench(layout):
    return [
        ((a["x"], a["y"]), (b["x"], b["y"]))
        for line in layout["lines"]
        for a, b in itertools.pairwise(line["vertices"])
    ]


def _places(layout, step=0.25):
    for (ax, ay), (bx, by) in _trench(layout):
        n = max(1, math.ceil(math.dist((ax, ay), (bx, by)) / step))
        for k in range(n):
            yield ax + (bx - ax) * (k + 0.5) / n, ay + (by - ay) * (k + 0.5) / n, math.dist((ax, ay), (bx, by)) / n


def _off(x, y, runs):
    """How far a place lies from the nearest run, by projection on each."""
    best = math.inf
    for (ax, ay), (bx, by) in runs:
        length = (bx - ax) ** 2 + (by - ay) ** 2
        t = 0.0 if length == 0 else min(1.0, max(0.0, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length))
        best = min(best, math.hypot(ax + t * (bx - ax) - x, ay + t * (by - ay) - y))
    return best


def test_three_layouts_stand_in_the_order_of_their_cost_and_one_is_the_plan(plain):
    layouts = _record(plain)["layouts"]
    assert [one["number"] for one in layouts] == [1, 2, 3]
    assert [one["cost"] for one in layouts] == sorted(one["cost"] for one in layouts)
    assert [one["number"] for one in layouts if one["chosen"]] == [1]


@pytest.mark.slow
def test_a_cheaper_layout_in_doubt_is_offered_and_not_taken(plan_once):
    """Two downspouts reach a swale that the site names, surely.

    A nearer found point is cheaper, and nobody can tell of it.
    """
    site = REPO / "sample_sites" / "kiln-rise"
    made, alone = plan_once(site), plan_once(site, "--layouts", "1")
    record = _record(made)
    (taken,) = (one for one in record["layouts"] if one["chosen"])
    cheaper = [one for one in record["layouts"] if one["cost"] < taken["cost"] - 1e-6]
    assert cheaper, "the sample is of no use here without one"
    assert all(one["chance"] < 0.95 and one["fails"] == taken["fails"] for one in cheaper)
    assert taken["chance"] >= 0.95
    assert {line["state"] for line in record["lines"]} == {"sure"}
    assert record["lines"] == _record(alone)["lines"]
    assert "3 sure to drain" in made.said
    assert f"This plan is layout {taken['number']}" in made.said


@pytest.mark.parametrize(
    ("others", "taken"),
    [
        ([{"what": "depth", "sure": "A"}], 2),  # cheaper and B in doubt
        ([{"what": "depth", "sure": "AB"}], 1),  # cheaper and no worse
        ([{"what": "outlet", "sure": "AB", "found": True}], 2),  # nobody asked for that point
        ([{"what": "depth", "sure": "A"}, {"what": "pavement", "sure": "AB"}], 2),
        ([{"what": "depth", "sure": "", "fails": -1}], 1),  # what breaks a rule goes before what is in doubt
    ],
)
def test_the_usual_layout_leaves_nobody_in_doubt_for_a_saving(others, taken):
    """Each other is cheaper than the one at least cost, which drains both and breaks one rule."""

    def layout(number, what, sure, *, found=False, fails=0):
        return SimpleNamespace(
            layout=SimpleNamespace(
                number=number,
                sure=tuple(sure),
                aim=Aim(what=what),
                fails=1 + fails,
                ends=(SimpleNamespace(id="O", found=found),),
                lines=(SimpleNamespace(end="O", sources=("A", "B")),),
            ),
        )

    rows = [layout(k, **one) for k, one in enumerate(others, start=1)]
    assert usual([*rows, layout(len(rows) + 1, "cost", "AB")]) == taken
    assert usual([]) == 0


def test_no_layout_is_a_copy_of_another(plain):
    """Told by other arithmetic: where sources leave, which share a line, or a tenth of the trench a metre apart."""
    layouts = _record(plain)["layouts"]
    for one, other in itertools.combinations(layouts, 2):
        leaves = [
            {key: line["to"] for line in each["lines"] for key in line["sources"] if line["to"][0] != "L"}
            for each in (one, other)
        ]
        shared = [{frozenset(line["sources"]) for line in each["lines"]} for each in (one, other)]
        away = max(
            sum(part for x, y, part in _places(a) if _off(x, y, _trench(b)) > 1.0) / a["length"]
            for a, b in ((one, other), (other, one))
        )
        assert leaves[0] != leaves[1] or shared[0] != shared[1] or away > 0.1, (one["title"], other["title"])


def test_every_layout_serves_what_the_plan_serves(plain):
    record = _record(plain)
    served = {key for line in record["lines"] for key in line["sources"]}
    for one in record["layouts"]:
        assert {key for line in one["lines"] for key in line["sources"]} == served


def test_the_figures_of_the_layout_taken_are_the_plans_own(plain, second):
    for made in (plain, second):
        record = _record(made)
        (taken,) = [one for one in record["layouts"] if one["chosen"]]
        lines, status = record["lines"], [one["status"] for one in record["checks"]]
        assert (taken["flags"], taken["fails"]) == (status.count("flag"), status.count("fail"))
        assert taken["length"] == pytest.approx(sum(line["length"] for line in lines), abs=1e-4)
        assert taken["deepest_cut"] == max(row["cut"] for line in lines for row in line["stations"])
        assert taken["spare"] == min(line["spare"] for line in lines)
        assert [line["id"] for line in taken["lines"]] == [line["id"] for line in lines]
        crossed = [c for line in lines for c in line["crossings"] if c["kind"] in {"driveway", "walk", "paving"}]
        assert taken["pavement"] == pytest.approx(sum(c["station_to"] - c["station_from"] for c in crossed), abs=1e-5)
        assert (taken["over_ladder"] > 0) == (taken["deepest_cut"] > STANDARD)


def test_another_layout_is_the_one_that_the_table_promised(plain, second):
    """Its lines, its flags and its fails, counted by the checks of its own plan."""
    promised, taken = _record(plain)["layouts"], _record(second)["layouts"]
    assert [one["chosen"] for one in taken] == [False, True, False]
    for one, other in zip(promised, taken, strict=True):
        assert {**one, "chosen": None} == {**other, "chosen": None}
    assert _record(second)["choices_asked"]["choose"] == 2
    assert "Layout 2 was chosen" in " ".join(_record(second)["assumptions"])


@pytest.mark.skipif(not VERIFY.is_file(), reason="the verifier is not here")
def test_another_layout_is_legal_by_an_outside_check(second):
    done = subprocess.run(
        [sys.executable, str(VERIFY), str(SITE), str(second.folder / "plan.json")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert " 0 errors" in done.stdout, done.stdout


def test_a_number_that_is_not_there_is_one_message_and_nothing_is_written(tmp_path, capsys):
    assert main(["plan", str(SITE), "--layouts", "1", "--choose", "4", "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "--choose: there is no layout 4" in said
    assert not (tmp_path / "out").exists()


def test_the_terminal_shows_them_in_eighty_columns(plain):
    said = plain.said.splitlines()
    start = next(k for k, line in enumerate(said) if line.startswith("LAYOUTS"))
    table = said[start : start + 14]
    assert all(len(line) <= 80 for line in table)
    assert any(re.match(r"\s+1\*\s", line) for line in table)
    assert "Best by:" in " ".join(table)


def test_the_csv_has_a_row_a_layout_in_feet(plain):
    rows = list(csv.DictReader(io.StringIO((plain.folder / "layouts.csv").read_text("utf-8"))))
    layouts = _record(plain)["layouts"]
    assert [row["layout"] for row in rows] == ["1", "2", "3"]
    for row, one in zip(rows, layouts, strict=True):
        assert float(row["length (ft)"]) == pytest.approx(one["length"] / 0.3048, abs=0.06)
        assert (int(row["flags"]), int(row["fails"])) == (one["flags"], one["fails"])


def test_the_map_lays_each_other_one_over_the_plan_off_at_first(plain):
    page = (plain.folder / "map.html").read_text("utf-8")
    assert "Layouts to choose from" in page
    for number, there in ((1, False), (2, True), (3, True)):
        assert (f'"Layout {number}"' in page) is there
    assert page.count('"layout_2_touch"') == 2  # its lines, and what a click on them shows


def test_one_layout_is_quick_and_says_so(plan_once):
    record = _record(plan_once(SITE, "--layouts", "1"))
    assert [one["number"] for one in record["layouts"]] == [1]
    assert record["layouts_left"] == []


@pytest.mark.parametrize(
    ("what", "told"),
    [
        (lambda r: r["layouts"][1].update(cost=1.0), "layouts do not stand in the order of their cost"),
        (lambda r: r["layouts"][1].update(length=1.0), "layout 2: length"),
        (lambda r: r["layouts"][2].update(spare=9.0), "layout 3: fall to spare"),
        (lambda r: r["layouts"][0].update(fails=7), "layout 1, which this plan is: fails 7"),
        (lambda r: r["layouts"][0].update(chosen=False), "0 layouts are marked"),
        (
            lambda r: r["layouts"][0].update(sure=[]),
            "layout 1, which this plan is: drains none for sure, the plan gives",
        ),
        (lambda r: r["layouts"][1].update(flags=0), "made again"),
        (lambda r: r["layouts"].pop(), "made again"),
    ],
    ids=["cost", "length", "spare", "fails", "taken", "sure", "flags", "gone"],
)
def test_an_edited_table_is_found(plain, tmp_path, capsys, what, told):
    edited = shutil.copytree(plain.folder, tmp_path / "plan")
    record = _record(plain)
    what(record)
    (edited / "plan.json").write_text(json.dumps(record), "utf-8")
    assert main(["review", str(edited), str(SITE)]) == 1
    assert told in " ".join(capsys.readouterr().out.split())


def test_an_honest_choice_is_reviewed_clean(second, capsys):
    main(["review", str(second.folder), str(SITE), "--json"])
    found = json.loads(capsys.readouterr().out)["findings"]
    assert [one for one in found if one["status"] == "fail"] == []
    assert any(one["subject"] == "layouts" and one["status"] == "pass" for one in found)
