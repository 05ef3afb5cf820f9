"""The recipes of DEVELOPERS.md, followed on a copy of the package as they are written, and tried as a user would.

Each recipe is a list of edits: in which file, after which line, what is added. One copy takes them all.
"""

from __future__ import annotations

import csv
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

REPO = Path(__file__).parents[2]
SITE = REPO / "sample_sites" / "alder-court"

RULE = [
    ("books/rules.py", "NUMBERS_AGREE = _rule(", """LONGEST_LINE = _rule(
    "longest-line", "Length of a line", "at most", 20.0, "ft", "length", SHEET, "2026", "practice", "flag", "every line",
)

"""),
    ("books/rules.py", "    NUMBERS_AGREE,\n)", "    LONGEST_LINE,\n"),
    ("checks/judge.py", "        rules.NUMBERS_AGREE.id:", "        rules.LONGEST_LINE.id: lengths.longest_line,\n"),
    ("checks/judge.py", "    falling,\n", "    lengths,\n"),
    ("checks/lengths.py", None, '''"""Lines in; whether one is longer than is wanted, out."""

from __future__ import annotations

import math
from itertools import pairwise

from siteplan.books import rules
from siteplan.checks.report import DISTANCE, ruled
from siteplan.checks.scene import Scene
from siteplan.values.told import Finding


def longest_line(scene: Scene) -> list[Finding]:
    found = []
    for line in scene.plan.lines:
        far = sum(math.dist((a.x, a.y), (b.x, b.y)) for a, b in pairwise(line.vertices))
        found.append(ruled(
            scene, rules.LONGEST_LINE, line.id, far, measure=DISTANCE, said="length", where="", limit=scene.limit(rules.LONGEST_LINE),
        ))
    return found
'''),
]  # fmt: skip
SOURCE = [
    ("books/kinds.py", '    CURB_OUTLET = "curb_outlet"', '    WINDOW_WELL = "window_well"\n'),
    (
        "books/kinds.py",
        "})  # fmt: skip\n\nOUTLETS",
        """    Kind.WINDOW_WELL: SourceKind(
        title="Window well", water="a window well's water", flow=Flow.AREA, end="guided", keys=("drained_area", "cover"), ways=("allow", "allow"),
    ),
""",
    ),
    ("sheets/drawing.py", '    "curb_outlet": (', '    "window_well": ("M2 4h20v16H2z", "V"),\n'),
]
OUTLET = [
    ("books/kinds.py", '    TIE_IN = "tie_in"', '    HEADWALL = "headwall"\n'),
    (
        "books/kinds.py",
        "    Kind.TIE_IN: OutletKind(",
        """    Kind.HEADWALL: OutletKind(
        title="Headwall", word="headwall", by="by a headwall", to="through a headwall", end="free", opens="ground", usual="allow",
    ),
""",
    ),
    ("sheets/drawing.py", '    "curb_outlet": (', '    "headwall": ("M2 2h20v8H2z", ""),\n'),
]
SHEET = [
    ("sheets/tally.py", None, '''"""Plan in; one row a line out."""

from siteplan.values.whole_plan import Plan


def tally(plan: Plan) -> bytes:
    return "".join(f"{line.id} {len(line.rows)}\\n" for line in plan.lines).encode()
'''),
    ("offered.py", "SHEETS: tuple", """def _tally(plan: Plan, _: Site) -> bytes:
    from siteplan.sheets.tally import tally

    return tally(plan)


"""),
    ("sheets/folio.py", '"trench_schedule.csv", ', '"tally.txt", '),
    ("offered.py", '    Sheet("trench_schedule.csv", _schedule),\n', '    Sheet("tally.txt", _tally),\n'),
]  # fmt: skip
COMMAND = [
    ("cli/main.py", '    "rules": "', '    "greet": "say whose work this is",\n'),
    (
        "cli/greet.py",
        None,
        '''"""`siteplan greet`."""

import argparse


def declare(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--name", default="crew")


def run(options: argparse.Namespace) -> int:
    print(f"good morning, {options.name}")
    return 0
''',
    ),
]
PIPE = ("pvc_sch40", "4 in", {"kind": "pvc_blue", "title": "blue PVC"})


def follow(root, edits):
    for name, before, text in edits:
        path = root / "siteplan" / name
        if before is None:
            path.write_text(text, encoding="utf-8")
            continue
        old = path.read_text(encoding="utf-8")
        assert old.count(before) == 1, (name, before)
        path.write_text(old.replace(before, text + before), encoding="utf-8")


def add_pipe(root):
    path = root / "siteplan" / "books" / "pipes.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    kind, nominal, changed = PIPE
    like = next(row for row in rows if (row["kind"], row["nominal"]) == (kind, nominal))
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows([*rows, {**like, **changed}])


@pytest.fixture(scope="module")
def copy(tmp_path_factory):
    """A copy of the package with every recipe followed."""
    root = tmp_path_factory.mktemp("recipes")
    shutil.copytree(REPO / "siteplan", root / "siteplan")  # with its compiled kernels: a copy keeps their times
    for edits in (RULE, SOURCE, OUTLET, SHEET, COMMAND):
        follow(root, edits)
    add_pipe(root)
    return root


def run(copy, *arguments):
    done = subprocess.run(
        [sys.executable, "-m", "siteplan", *arguments],
        capture_output=True,
        text=True,
        check=False,
        cwd=copy,
        env={**os.environ, "PYTHONPATH": str(copy)},
    )
    assert "Traceback" not in done.stderr, done.stderr
    return done


@pytest.fixture(scope="module")
def planned(copy):
    """Alder Court with the new pipe and a downspout made a window well, planned by the copy."""
    site = copy / "site"
    shutil.copytree(SITE, site)
    text = (site / "site.toml").read_text(encoding="utf-8")
    (site / "site.toml").write_text(f'{text}\n[water]\npipe = "pvc_blue"\n', encoding="utf-8")
    path = site / "features.geojson"
    layer = json.loads(path.read_text(encoding="utf-8"))
    well = next(one for one in layer["features"] if one["properties"]["kind"] == "downspout")
    well["properties"] = {"kind": "window_well", "name": "WELL", "drained_area": 40}
    slope = next(one for one in layer["features"] if one["properties"]["kind"] == "daylight_outlet")
    slope["properties"] = {"kind": "headwall", "name": "WALL"}
    path.write_text(json.dumps(layer), encoding="utf-8")
    done = run(copy, "plan", str(site), "--out", str(copy / "out"))
    assert done.returncode in {0, 1}, done.stderr
    return site, copy / "out", json.loads((copy / "out" / "plan.json").read_text(encoding="utf-8"))


def test_a_rule_is_judged_printed_and_can_be_set(copy, planned):
    site, _, plan = planned
    told = [one for one in plan["checks"] if one["rule"] == "longest-line"]
    assert {one["subject"] for one in told} == {line["id"] for line in plan["lines"]}
    assert any(one["status"] == "flag" and one["value"] > one["limit"] for one in told)
    listed = run(copy, "rules", str(site)).stdout
    assert "longest-line" in listed


def test_a_pipe_is_laid_and_forecast(copy, planned):
    _, _, plan = planned
    assert {line["pipe"]["kind"] for line in plan["lines"]} == {"pvc_blue"}
    assert "blue PVC" in run(copy, "pipes").stdout


def test_a_kind_of_source_is_read_drained_drawn_and_ruled(planned):
    _, out, plan = planned
    (well,) = [one for one in plan["sources"] if one["kind"] == "window_well"]
    assert well["name"] == "WELL"
    assert any(one["rule"].startswith("window-well-to-") for one in plan["checks"])
    assert "Window well" in (out / "map.html").read_text(encoding="utf-8")


def test_a_kind_of_outlet_is_read_laid_to_drawn_and_ruled(planned):
    _, out, plan = planned
    (wall,) = [one for one in plan["outlets"] if one["kind"] == "headwall"]
    assert wall["name"] == "WALL"
    assert any(line["to"] == wall["id"] for line in plan["lines"])
    judged = [one for one in plan["checks"] if one["rule"].endswith("-to-headwall")]
    assert {one["status"] for one in judged} == {"pass"}
    assert "Headwall" in (out / "map.html").read_text(encoding="utf-8")


def test_a_sheet_is_written_and_compared_by_the_review(copy, planned):
    site, out, plan = planned
    assert (out / "tally.txt").read_text(encoding="utf-8").split()[0] == plan["lines"][0]["id"]
    good = json.loads(run(copy, "review", str(out), str(site), "--json").stdout)
    assert not [one for one in good["findings"] if one["rule"] in {"sheet", "extra-file"} and one["status"] != "pass"]
    (out / "tally.txt").write_bytes(b"L1 1\n")
    bad = json.loads(run(copy, "review", str(out), str(site), "--json").stdout)
    assert [one["subject"] for one in bad["findings"] if one["rule"] == "sheet" and one["status"] == "fail"] == [
        "tally.txt"
    ]


def test_a_review_of_what_all_recipes_made_finds_no_fail_of_its_own(copy, planned):
    site, _, _ = planned
    fresh = copy / "fresh"
    run(copy, "plan", str(site), "--out", str(fresh))
    plan = json.loads((fresh / "plan.json").read_text(encoding="utf-8"))
    stated = {(one["rule"], one["subject"]) for one in plan["checks"] if one["status"] == "fail"}
    review = json.loads(run(copy, "review", str(fresh), str(site), "--json").stdout)
    assert {(one["rule"], one["subject"]) for one in review["findings"] if one["status"] == "fail"} <= stated


def test_a_command_is_offered(copy):
    assert run(copy, "greet", "--name", "Ana").stdout == "good morning, Ana\n"
    assert "greet" in run(copy, "--help").stdout
