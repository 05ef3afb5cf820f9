"""Fifty drawn routes on even ground, legal, illegal and near misses, each judged by a plan and by arithmetic done here.

Python benchmarks/own_routes.py [LOTS].

The ground is 100 m + 0.02 x, a route 42 m straight down it from x = 48 to an old pipe at x = 6, so that cover, depth,
grade and the level of the join are each one subtraction. Nothing of siteplan's arithmetic is used for what is expected;
limits are those of docs/rules.md, sizes those of ASTM D3034. The outside verifier walks each plan too, where it is at
hand.
"""

from __future__ import annotations

import importlib.util
import itertools
import json
import sys
import tempfile
import time
from pathlib import Path

REPO = Path(__file__).parents[1]
BORE, TOP = (4.215 - 2 * 0.120) * 0.0254, (4.215 - 0.120) * 0.0254  # m
OLD, WIDE = 99.2, 0.15  # the old pipe's invert and inside [m]
LEVEL = OLD + 0.8 * (WIDE - BORE)
EAST, WEST, LENGTH = 48.0, 6.0, 42.0
HIGH, LOW = 100.96, 100.12  # ground at the two ends
COVER, DEPTH, GRADE, DOUBT = 12 * 0.0254, 4.5 * 0.3048, 0.01, 0.005
PER_LOT = 10


def routes() -> list[tuple[float, float]]:
    """Inverts at the upper and the lower end: the cover's margin up there, by what is asked of the lower end."""
    found = []
    for margin, low in itertools.product((0.10, 0.03, 0.003, -0.003, -0.03, -0.15), range(9)):
        high = HIGH - TOP - COVER - margin
        ends = (
            LEVEL + 0.10,
            LEVEL + 0.001,
            LEVEL,
            LEVEL - 0.001,
            OLD,
            OLD - 0.002,
            high - 0.43,
            high - 0.417,
            high + 0.05,
        )
        found.append((round(high, 6), round(ends[low], 6)))
    return found[:50]


def expected(high: float, low: float) -> dict[str, str]:
    """By rule, how it is judged: within the survey's doubt of a limit is a flag."""

    def judged(margin: float) -> str:
        return "flag" if abs(margin) <= DOUBT else "fail" if margin < 0 else "pass"

    cover = min(HIGH - high, LOW - low) - TOP - COVER
    depth = DEPTH - max(HIGH - high, LOW - low)
    grade = (high - low) / LENGTH
    told = {"min-cover": judged(cover), "max-depth": judged(depth)}
    told["tie-in-level"] = "pass" if low >= LEVEL - 1e-6 else "fail"
    told["continuous-fall"] = "pass" if grade > 0 else "fail"
    if grade > 0:
        told["min-grade"] = "pass" if grade >= GRADE - 1e-6 else "fail"
    if low < OLD - 1e-6:
        told["outlet-control"] = "fail"
    return told


def lot(folder: Path, some: list[tuple[float, float]]) -> Path:
    """A lot with these routes side by side, 2 m apart."""
    sys.path.insert(0, str(REPO / "tests" / "builders"))
    import even_ground

    features = []
    for k, inverts in enumerate(some):
        y = 2.0 + 2.0 * k
        features += [
            even_ground.point("downspout", f"D{k}", EAST, y, roof_area=40.0),
            even_ground.point("tie_in", f"Old {k}", WEST, y, invert=OLD, diameter_mm=150, takes_lps=10),
            even_ground.drain(
                [(EAST, y), (WEST, y)], name=f"R{k}", start=f"D{k}", end=f"Old {k}", inverts=list(inverts)
            ),
        ]
    return even_ground.site_folder(folder, features)


def differences(record: dict[str, object], some: list[tuple[float, float]]) -> list[str]:
    """Where a plan judges a route otherwise than `expected`, one line each."""
    found = []
    drawn = {one["name"]: one["line"] for own in record["own_lines"] for one in own["drawn"]}
    for k, (high, low) in enumerate(some):
        mine = [one for one in record["checks"] if one["subject"].split(":")[0] == drawn[f"R{k}"]]
        for rule, wanted in expected(high, low).items():
            said = {one["status"] for one in mine if one["rule"] == rule}
            worst = "fail" if "fail" in said else "flag" if "flag" in said else "pass" if said else "nothing"
            if worst != wanted:
                found.append(f"R{k} ({high:.3f} to {low:.3f}) {rule}: {worst}, by hand {wanted}")
    return found


def main(lots: int) -> int:
    """Plans the lots and prints what differs."""
    from siteplan.cli.main import main as siteplan

    every, wrong, errors, begun = routes(), [], [], time.perf_counter()
    verify = REPO.parent / "shared" / "check" / "verify_plan.py"
    judged = mended = 0
    with tempfile.TemporaryDirectory() as scratch:
        for number, start in enumerate(range(0, min(len(every), lots * PER_LOT), PER_LOT)):
            some = every[start : start + PER_LOT]
            site, out = lot(Path(scratch) / f"site{number}", some), Path(scratch) / f"plan{number}"
            siteplan(["plan", str(site), "--out", str(out)])
            record = json.loads((out / "plan.json").read_text("utf-8"))
            wrong += [f"lot {number}: {one}" for one in differences(record, some)]
            judged += len(some)
            mended += sum(any(m["proven"] for m in own["mends"]) for own in record["own_lines"])
            illegal = sum(bool(own["fails"]) for own in record["own_lines"])
            print(f"lot {number}: {illegal} of {len(some)} break a rule", file=sys.stderr)
            if verify.exists():
                spec = importlib.util.spec_from_file_location("verify_plan", verify)
                module = importlib.util.module_from_spec(spec)
                spec.loader.exec_module(module)
                errors += module.verify(site, out / "plan.json")[0]
    print(f"{judged} routes, {len(wrong)} judged otherwise than by hand, {len(errors)} errors of the outside verifier")
    print(f"{mended} mended, each mend judged again; {time.perf_counter() - begun:.0f} s")
    print(*wrong, *errors, sep="\n")
    return 1 if wrong or errors else 0


if __name__ == "__main__":
    raise SystemExit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 5))
