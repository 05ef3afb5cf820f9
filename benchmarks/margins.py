"""What margins cost, which limits have none left and why.

Also covers that a plan doubts by itself although fall is to spare.

    python benchmarks/margins.py [--lots 100] [--first 0] [--crowded]

An on-demand job on one core, a few seconds a lot. The lots are those of `tests/doors/random_lots.py`, none made to be
easy or hard. Prints a line a lot and the sums; ends with 1 when a cover is flagged for the survey's doubt where the
line has more fall to spare than that doubt, or when a stated margin is not held.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "doors"))

from random_lots import lot  # noqa: E402

from siteplan.cli.main import main as siteplan  # noqa: E402
from siteplan.units import GRADE  # noqa: E402

COVERS = ("min-cover", "outlet-zone-cover", "min-cover-pavement", "min-cover-pavement-heavy")
STEP = {"m": 0.05, "ft": 100 * GRADE["in_per_ft"] / 16, "us-ft": 100 * GRADE["in_per_ft"] / 16}  # percent
_NEAR = 0.002  # percent: inverts are written to the micrometre


class Told(NamedTuple):
    """What one plan says of its margins."""

    lines: int
    cost: float  # of its lines, relative
    paid: dict[str, float]  # by limit
    short: Counter[str]  # by limit and reason
    doubted: list[str]  # covers flagged for the survey's doubt although fall is to spare
    untrue: list[str]  # fails of numbers-agree
    runs: int
    odd: int  # of them in grades that are no whole number of steps


def told_of(record: dict[str, Any]) -> Told:
    """What a parsed plan.json says of its margins."""
    lines = {line["id"]: line for line in record["lines"]}
    paid: dict[str, float] = {}
    short: Counter[str] = Counter()
    runs = odd = 0
    step = STEP[record["site"]["length_unit"]]
    for line in lines.values():
        for one in line["margins"]:
            paid[one["rule"]] = paid.get(one["rule"], 0.0) + one["cost"]
            if one["short_of"]:
                short[f"{one['rule']}: {one['short_of']}"] += 1
        grades = [row["grade_percent"] for row in line["stations"][1:]]
        changes = [a for a, b in zip(grades, [*grades[1:], None], strict=True) if b is None or abs(a - b) > _NEAR]
        runs += len(changes)
        odd += sum(abs(grade / step - round(grade / step)) * step > _NEAR for grade in changes)
    # of a line whose flow needs the fall in its size of pipe there is none to spare, whatever the rules' least grade
    # leaves
    flow = {name for name, line in lines.items() for one in line["margins"] if one["short_of"] == "flow"}
    doubted = [
        check["subject"]
        for check in record["checks"]
        if check["rule"] in COVERS
        and check["status"] == "flag"
        and check["value"] is not None
        and abs(check["value"] - check["limit"]) <= check["doubt"]
        and lines[check["subject"].partition(":")[0]]["spare"] > check["doubt"]
        and check["subject"].partition(":")[0] not in flow
    ]
    untrue = [c["message"] for c in record["checks"] if c["rule"] == "numbers-agree" and c["status"] == "fail"]
    cost = sum(line["cost"] for line in lines.values())
    return Told(len(lines), cost, paid, short, doubted, untrue, runs, odd)


def planned(seed: int, *, crowded: bool) -> dict[str, Any] | None:
    """The plan.json of a lot; None where it is refused."""
    with tempfile.TemporaryDirectory() as work:
        site, out = lot(Path(work) / "lot", seed, crowded=crowded), Path(work) / "out"
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            if siteplan(["plan", str(site), "--out", str(out)]) > 1:
                return None
        record: dict[str, Any] = json.loads((out / "plan.json").read_text(encoding="utf-8"))
        return record


def main() -> int:
    """Run the lots and print what margins cost."""
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--lots", type=int, default=100)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--crowded", action="store_true")
    options = asked.parse_args()
    every: list[Told] = []
    for seed in range(options.first, options.first + options.lots):
        record = planned(seed, crowded=options.crowded)
        if record is None:
            print(f"LOT {seed}: refused", flush=True)
            continue
        told = told_of(record)
        every.append(told)
        paid = ", ".join(f"{rule} {cost:.2f}" for rule, cost in told.paid.items() if cost > 0) or "nothing"
        lacking = (
            f"; short: {', '.join(f'{what} x{n}' for what, n in sorted(told.short.items()))}" if told.short else ""
        )
        print(f"LOT {seed}: {told.lines} lines cost {told.cost:.1f}, margins {paid}{lacking}", flush=True)
        for what in (*told.doubted, *told.untrue):
            print(f"LOT {seed} WRONG {what}", flush=True)
    total = sum(told.cost for told in every)
    paid = sum((Counter(told.paid) for told in every), Counter[str]())
    short = sum((told.short for told in every), Counter[str]())
    runs, odd = sum(told.runs for told in every), sum(told.odd for told in every)
    lines = sum(told.lines for told in every)
    print(f"SUM {len(every)} lots, {lines} lines, {runs} grades to set, {odd} of them odd")
    print(f"SUM margins cost {100 * sum(paid.values()) / total if total else 0:.2f} % of the lines")
    for rule, cost in sorted(paid.items()):
        print(f"SUM   {rule}: {100 * cost / total:.2f} %")
    for what, count in sorted(short.items()):
        print(f"SUM   lines that lack it, {what}: {count}")
    wrong = sum(len(told.doubted) + len(told.untrue) for told in every)
    print(f"SUM covers doubted although fall is to spare: {sum(len(told.doubted) for told in every)}")
    print(f"SUM stated margins and other figures not held: {sum(len(told.untrue) for told in every)}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
