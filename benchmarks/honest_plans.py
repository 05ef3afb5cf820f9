"""Whether a review finds a fail in a plan that nobody touched: hundreds of invented lots, every kind and size of pipe.

    python benchmarks/honest_plans.py [--lots 220] [--first 0] [--again-every 8]

An on-demand job on one core, four to eight seconds a lot. A lot's number picks its pipe, frame and form of ground in
turn and all the rest by chance. The review plans the lot a second time for every eighth lot only: the others are handed
the plan just made, as the same code would make the same once more; everything else of the review is whole on every lot.
Other layouts are laid beside every sixth lot. Prints each false alarm, what was covered, and ends with 1 when there was
any.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "doors"))

from sites_builder import FEET, build, feature, projection  # noqa: E402

from siteplan.books.pipes import catalogue, sizes  # noqa: E402
from siteplan.cli.main import main as siteplan  # noqa: E402
from siteplan.errors import InputError, InputErrors  # noqa: E402
from siteplan.review import made_again as again  # noqa: E402
from siteplan.review.whole import review  # noqa: E402

FRAMES = (
    ("local", "ft", "ft"),
    ("local", "us-ft", "us-ft"),
    ("local", "m", "m"),
    ("EPSG:32618", "m", "m"),
    ("EPSG:2263", "us-ft", "us-ft"),
    ("EPSG:6347", "m", "ft"),
    ("local", "ft", "m"),
)
GROUNDS = ("grid", "grid", "shots", "grid and shots", "surface")
ACCURACIES = (0.0984, 0.0333, 0.1, 0.164, 0.0417, 0.07, 0.123)  # feet, odd on purpose
PROFILES = ("", "", "", "fernhollow.toml", "stonebridge.toml")
OWN = (
    '\n[pipes.ours]\nkind = "pvc_sdr26"\ntitle = "sewer-grade PVC, SDR 26"\nlike = "pvc_sdr35 {size} '
    'in"\npipe_stiffness_psi = 115\nsource = "data sheet of 2024"\n'
)


def pipes() -> list[tuple[str, str, bool]]:
    """Kind, size, and whether the site brings it: the whole book and two sizes of a site's own."""
    book = sorted(
        {
            (pipe.kind, str(pipe.nominal))
            for kind in {one.kind for one in catalogue()} | {"pvc_metric"}
            for pipe in sizes(kind)
        }
    )
    return [*((kind, size, False) for kind, size in book), ("pvc_sdr26", "4 in", True), ("pvc_sdr26", "6 in", True)]


def lot(folder: Path, number: int) -> tuple[str, ...]:
    """Write lot `number`; returns what it is an example of."""
    pick = random.Random(f"honest {number}")
    offered = pipes()
    kind, size, own = offered[number % len(offered)]
    crs, unit, height = FRAMES[number % len(FRAMES)]
    form = GROUNDS[number % len(GROUNDS)]
    metric = unit == "m"
    slope, aside, bank = pick.uniform(0.012, 0.05), pick.uniform(-0.012, 0.012), pick.uniform(0.5, 1.2)
    bumps = [
        (pick.uniform(0, 40), pick.uniform(0, 30), pick.uniform(-0.3, 0.2), pick.uniform(2, 8))
        for _ in range(pick.randrange(2, 6))
    ]

    def heights(x: Any, y: Any) -> Any:
        x, y = np.asarray(x, float), np.asarray(y, float)
        z = 30 - slope * x + aside * y - bank * np.clip((x - 33) / 5, 0, 1)
        for at_x, at_y, high, wide in bumps:
            z = z + high * np.exp(-((x - at_x) ** 2 + (y - at_y) ** 2) / wide**2)
        return z / FEET[height]

    changes: dict[str, str | None] = {
        "name": f'"Lot {number}"',
        "ground.accuracy": f"{pick.choice(ACCURACIES) * FEET['ft'] / FEET[height]:.4g}",
        **({} if own else {"water.pipe": f'"{kind}"'}),
        "water.smallest": f'"{size}"',  # a site's own is weighed reach by reach
    }
    if pick.random() < 0.7:
        changes["water.largest"] = f'"{size}"'
    told = [f"pipe {kind} {size}{' own' if own else ''}", f"frame {crs} {unit}/{height}", f"ground {form}"]
    if pick.random() < 0.4:
        changes["rainfall.intensity"] = None
        changes["rainfall.table"] = (
            "[[5, 165.1], [10, 138.0], [15, 119.3], [60, 55.7]]"
            if metric
            else "[[5, 6.47], [10, 5.43], [15, 4.7], [60, 2.17]]"
        )
        changes["rainfall.source"] = '"a table of a county"'
        told.append("rainfall table")
    if pick.random() < 0.3:
        changes["rules.min_cover_mm" if metric else "rules.min_cover_in"] = "195" if metric else "7.3"
        told.append("own rule")
    if pick.random() < 0.3:
        changes["trench.house_backfill"] = '"fresh"'
        told.append("fresh backfill")
    if pick.random() < 0.25:
        changes["trench.certainty"] = pick.choice(["0.5", "0.8", "0.99"])
        told.append("certainty")
    if pick.random() < 0.2:
        changes["trench.wet_soil"] = pick.choice(['"mineral"', '"organic"'])
        told.append("wet soil")
    if profile := pick.choice(PROFILES):
        changes["rule_profile"] = f'"{profile}"'
        told.append(f"profile {profile}")
    drawn = _features(pick, unit, told)
    build(
        folder,
        crs=crs,
        length_unit=unit,
        elevation_unit=height,
        changes={**changes, **_ground(form)},
        features=drawn,
        heights=heights,
        shape=(pick.randrange(55, 90), pick.randrange(60, 100)),
    )
    if profile:
        shutil.copy(ROOT / "sample_sites" / "rules" / profile, folder / profile)
    if own:
        with (folder / "site.toml").open("a", encoding="utf-8") as file:
            file.write(OWN.format(size=size.split()[0]))
    _shots(folder, form, crs, unit, heights, pick, height)
    return tuple(told)


def _features(pick: random.Random, unit: str, told: list[str]) -> list[dict[str, Any]]:
    area, metric = FEET[unit] ** 2, unit == "m"
    names = pick.sample(["DS-1", "DS \u00e9", "Corner", "=1+1", "North gutter 2", "ds 3", "0.30 ft"], 3)
    drawn = [
        feature("lot", [(0, 0), (40, 0), (40, 30), (0, 30)], "Lot"),
        feature("building", [(10, 8), (22, 8), (22, 20), (10, 20)], "House"),
        feature("curb", [(41, -5), (41, 35)], "Curb"),
        feature("downspout", (22.3, pick.uniform(8.3, 12)), names[0], roof_area=round(pick.uniform(20, 120) / area, 2)),
        feature("downspout", (9.7, 19.7), names[1], roof_area=round(pick.uniform(20, 120) / area, 1)),
        feature("daylight_outlet", (pick.uniform(36, 38.5), pick.uniform(1.5, 4)), "Low corner"),
    ]
    maybe: tuple[tuple[float, str, dict[str, Any]], ...] = (
        (
            0.5,
            "driveway",
            feature("driveway", [(22, 9), (40, 9), (40, 12), (22, 12)], "Drive", vehicle=pick.choice(["car", "truck"])),
        ),
        (
            0.5,
            "sump",
            feature(
                "sump", (16, 20.5), "Pit", pump_rate=pick.choice([1.3, 2.0]) if metric else pick.choice([22.0, 32.0])
            ),
        ),
        (
            0.5,
            "curb outlet",
            feature(
                "curb_outlet", (40.8, pick.uniform(3, 20)), "Curb hole", **({"holes": 2} if pick.random() < 0.3 else {})
            ),
        ),
        (
            0.6,
            "utility",
            feature(
                "utility",
                [(30, -5), (pick.uniform(24, 36), 35)],
                "Main 1",
                service=pick.choice(["gas", "water", "power", "telecom"]),
                **({"depth": 0.9 / FEET[unit]} if pick.random() < 0.4 else {}),
            ),
        ),
        (0.4, "walk", feature("walk", [(24, 2), (36, 2), (36, 3.2), (24, 3.2)], "Walk")),
        (0.4, "wet ground", feature("wet_area", [(28, 4), (33, 4), (33, 8), (28, 8)], "Soggy")),
        (0.4, "tree", feature("tree", (pick.uniform(25, 37), pick.uniform(14, 28)), "Oak")),
        (0.3, "inlet", feature("inlet", (pick.uniform(25, 30), pick.uniform(14, 20)), names[2])),
        (0.2, "wall", feature("wall", [(34, 16), (34, 26)], "Garden wall")),
        (0.2, "easement", feature("easement", [(35, 0), (40, 0), (40, 30), (35, 30)], "Easement")),
        (0.2, "no-dig", feature("no_dig", [(25, 20), (29, 20), (29, 24), (25, 24)], "Roots")),
    )
    for odds, what, one in maybe:
        if pick.random() < odds:
            drawn.append(one)
            told.append(what)
    return drawn


def _ground(form: str) -> dict[str, str | None]:
    if form == "grid":
        return {}
    shots = '"surface.xml"' if form == "surface" else '"shots.csv"'
    alone: dict[str, str | None] = {} if form == "grid and shots" else {"ground.grid": None}
    order: dict[str, str | None] = {} if form == "surface" else {"ground.points_order": '"north-first"'}
    return {"ground.shots": shots, **alone, **order}


def _shots(folder: Path, form: str, crs: str, unit: str, heights: Any, pick: random.Random, height: str) -> None:
    """A list of shots, or a triangulated surface in the open exchange format, as `form` asks."""
    if form == "grid":
        return
    there, _ = projection(crs, unit)
    every, west = (4.0, -8.0) if form != "grid and shots" else (9.0, 1.0)
    xs, ys = np.arange(west, 50, every), np.arange(-6.0, 38, every)
    places = [(x + pick.uniform(-1, 1), y + pick.uniform(-1, 1)) for y in ys for x in xs]
    where = [there(x, y) for x, y in places]
    levels = [float(heights(x, y)) for x, y in places]
    if form == "surface":
        across = len(xs)
        points = "".join(
            f'<P id="{i}">{float(n):.4f} {float(e):.4f} {z:.4f}</P>'
            for i, ((e, n), z) in enumerate(zip(where, levels, strict=True), 1)
        )
        corners = [
            (r * across + c + 1, r * across + c + 2, (r + 1) * across + c + 1, (r + 1) * across + c + 2)
            for r in range(len(ys) - 1)
            for c in range(across - 1)
        ]
        faces = "".join(f"<F>{a} {b} {d}</F><F>{a} {d} {c}</F>" for a, b, c, d in corners)
        named = {"ft": "foot", "us-ft": "USSurveyFoot", "m": "meter"}
        system = "Metric" if unit == "m" else "Imperial"
        high = {"ft": "feet", "us-ft": "USSurveyFoot", "m": "meter"}[height]
        (folder / "surface.xml").write_text(
            '<?xml version="1.0"?>\n<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" '
            f'version="1.2"><Units><{system} linearUnit="{named[unit]}" elevationUnit="{high}"/></Units>'
            '<Surfaces><Surface name="EG"><Definition '
            f'surfType="TIN"><Pnts>{points}</Pnts><Faces>{faces}</Faces></Definition></Surface></Surfaces></LandXML>\n',
            encoding="utf-8",
        )
        return
    rows = [
        f"{i},{float(n):.3f},{float(e):.3f},{z:.3f},GR"
        for i, ((e, n), z) in enumerate(zip(where, levels, strict=True), 1)
    ]
    (folder / "shots.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")


def tried(work: Path, number: int, every: int = 1) -> tuple[str, tuple[str, ...], list[str]]:
    """Plan and review one lot: how it went, what it covers, and every fail that the plan does not state."""
    site, out = work / "site", work / "plan"
    told = lot(site, number)
    date = ["--date", "2026-03-0" + str(number % 9 + 1)] if number % 2 else []
    layouts = [] if number % 6 == 0 else ["--layouts", "1"]  # each other layout is a plan more
    code = siteplan(["plan", str(site), "--out", str(out), *date, *layouts])
    if code not in {0, 1}:
        return "refused" if code == 2 else f"exit {code}", told, []
    record = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    own = {(one["rule"], one["subject"], one["message"]) for one in record["checks"] if one["status"] == "fail"}
    try:
        if number % every:
            with mock.patch.object(again, "_made", return_value=record):
                found = review(out, site).findings
        else:
            found = review(out, site).findings
    except (InputError, InputErrors) as fault:
        return "review refused", told, [str(fault)]
    theirs = {(one.rule, one.subject, one.message) for one in found if one.status == "fail"}
    wrong = [f"not stated: {one}" for one in sorted(theirs - own)] + [
        f"not found again: {one}" for one in sorted(own - theirs)
    ]
    if not any(one.rule == "made-again" and one.status == "pass" for one in found):
        wrong.append("not made again")
    laid = f"{len(record['lines'])} lines" if record["lines"] else "no line"
    return laid, (*told, *(("date",) if date else ())), wrong


def main() -> int:
    """Run the lots and print the counts."""
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--lots", type=int, default=220)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--again-every", type=int, default=8)
    options = asked.parse_args()
    ways: Counter[str] = Counter()
    covered: Counter[str] = Counter()
    false, began = 0, time.perf_counter()
    for number in range(options.first, options.first + options.lots):
        with tempfile.TemporaryDirectory() as work:
            how, told, wrong = tried(Path(work), number, options.again_every)
        ways[how] += 1
        covered.update(told if how.endswith(" lines") else ())
        false += bool(wrong)
        print(
            f"LOT {number}: {how}; {', '.join(told)}" + "".join(f"\nLOT {number} FALSE {one}" for one in wrong),
            file=sys.stderr,
            flush=True,
        )
    print(f"LAW {options.lots} lots in {time.perf_counter() - began:.0f} s: {dict(ways)}; false alarms on {false} lots")
    print(
        "LAW covered, by lots with lines:\n"
        + "\n".join(f"LAW   {what}: {count}" for what, count in sorted(covered.items()))
    )
    return 1 if false else 0


if __name__ == "__main__":
    sys.exit(main())
