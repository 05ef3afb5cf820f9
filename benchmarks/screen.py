"""A generated county screened: what a lot costs, how cost and memory grow, and how far the screen is from full plans of the same lots.

python benchmarks/screen.py --plans 24            screen against full plans on true ground
python benchmarks/screen.py --grow 200 400 800    seconds and memory against the number of lots
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import io
import resource
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np

REPO = Path(__file__).parents[1]
sys.path.append(str(REPO / "tests" / "screen"))
WORKS = {"street", "rear", "both"}


def screened(paths: dict[str, Path], out: Path, *options: str) -> dict[int, dict[str, str]]:
    """Screen in this process; rows by number of the lot."""
    from siteplan.cli.main import main

    given = [f"--{name}={path}" for name, path in paths.items()]
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        code = main(["screen", *given, "--out", str(out), "--name", "parcel", "--workers", "0", *options])
    assert code in {0, 1}
    with (out / "screen.csv").open(encoding="utf-8-sig") as file:
        return {int(row["number"]): row for row in csv.DictReader(file)}


def drains(folder: Path) -> bool:
    """Whether the full plan has a line by gravity for every source."""
    from siteplan.plan import plan_site
    from siteplan.sheets.states import source_states
    from siteplan.values import ChoicesAsked

    plan, _ = plan_site(folder, choices=ChoicesAsked(count=1))
    return None not in source_states(plan).values()


def against_plans(home: Path, count: int, noise: float, *options: str) -> Counter[tuple[str, bool]]:
    """How often a screen on noisy public ground says what, and the full plan on true ground of the same lot yes or no."""
    import county

    paths = county.county(home / "county", 4 * count, noise=noise)
    rows = screened(paths, home / "screen", *options)
    places = county.lots(4 * count)
    found: Counter[tuple[str, bool]] = Counter()
    for number in range(1, 4 * count + 1, 4):
        folder = county.site_folder(home / f"lot-{number}", number, places[number - 1])
        found[rows[number]["state"], drains(folder)] += 1
    return found


def wrongly(found: Counter[tuple[str, bool]]) -> tuple[int, int, int, int]:
    """Lots said to drain, those of them that do not; said to be short, those of them that drain."""
    works = sum(number for (state, _), number in found.items() if state in WORKS)
    false_works = sum(number for (state, drained), number in found.items() if state in WORKS and not drained)
    short = sum(number for (state, _), number in found.items() if state == "short")
    return (
        works,
        false_works,
        short,
        sum(number for (state, drained), number in found.items() if state == "short" and drained),
    )


def grown(home: Path, count: int, workers: int, cell: float = 1.0) -> tuple[float, int]:
    """Seconds of all cores together, and the greatest memory of any process [MiB], of the command on so many lots."""
    import county

    paths = county.county(home / str(count), count, cell=cell, tile=1024)
    given = [f"--{name}={path}" for name, path in paths.items()]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, "-m", "siteplan", "screen", *given, "--out", str(home / f"out-{count}"), "--workers", str(workers)],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False,
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return spent, after.ru_maxrss // 1024


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plans", type=int, default=0)
    parser.add_argument("--noise", type=float, default=0.09)
    parser.add_argument("--grow", type=int, nargs="*", default=[])
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument(
        "--cell",
        type=float,
        default=1.0,
        help="of the elevation [m]; 0.35: some 10 000 by 10 000 cells for 10 000 lots",
    )
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        if asked.plans:
            found = against_plans(home, asked.plans, asked.noise)
            for (state, drained), number in sorted(found.items()):
                print(f"screen {state:12} full plan {'drains' if drained else 'does not'}: {number}")
            works, false_works, short, false_short = wrongly(found)
            print(
                f"said to drain {works}, of them do not {false_works}; said to be short {short}, of them drain {false_short}"
            )
        told = []
        for count in asked.grow:
            seconds, memory = grown(home, count, asked.workers, asked.cell)
            told.append((count, seconds))
            print(
                f"{count} lots: {seconds:.1f} s of all cores together, {seconds / count:.3f} s a lot, at most {memory} MiB in one process",
                flush=True,
            )
        if len(told) > 1:
            slope = np.polyfit(np.log([one[0] for one in told]), np.log([one[1] for one in told]), 1)[0]
            print(f"seconds grow with lots to the power {slope:.2f}")


if __name__ == "__main__":
    main()
