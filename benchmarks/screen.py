"""A generated county screened.

What a lot costs, how cost and memory grow, and how far the screen is from full plans of the same lots.

python benchmarks/screen.py --plans 24            screen against full plans on true ground
python benchmarks/screen.py --grow 200 400 800    seconds and memory against the number of lots, a run for each
python benchmarks/screen.py --county 10000 --keep DIR      one run over a raster of 10 000 x 10 000 cells, looked at as it goes: DIR/growth.csv
python benchmarks/screen.py --draw DIR/growth.csv FILE     that, as a picture
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import io
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
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
    from siteplan.values.asked_for import ChoicesAsked

    plan, _ = plan_site(folder, choices=ChoicesAsked(count=1))
    return None not in source_states(plan).values()


def against_plans(
    home: Path,
    count: int,
    noise: float,
    *options: str,
    each: Callable[[Counter[tuple[str, bool]]], None] = lambda _: None,
) -> Counter[tuple[str, bool]]:
    """How often a screen on noisy public ground says what, and the full plan on true ground of the same lot yes or no.

    Told after each lot.
    """
    import county
    import geopandas

    paths = county.county(home / "county", 4 * count, noise=noise)
    taken = range(1, 4 * count + 1, 4)  # one of four, from all over the county
    paths["parcels"] = home / "taken.gpkg"
    geopandas.read_file(home / "county" / "parcels.gpkg").iloc[[one - 1 for one in taken]].to_file(paths["parcels"])
    rows = screened(paths, home / "screen", *options)
    places = county.lots(4 * count)
    found: Counter[tuple[str, bool]] = Counter()
    for place, number in enumerate(taken, start=1):
        folder = county.site_folder(home / f"lot-{number}", number, places[number - 1])
        assert rows[place]["lot"] == f"P-{number:05d}"
        found[rows[place]["state"], drains(folder)] += 1
        each(found)
    return found


def bound(lots: int, wrong: int, confidence: float = 0.95) -> float:
    """The share that is wrong is under this with so much confidence (Clopper and Pearson 1934, one-sided: the exact binomial bound)."""
    from scipy.stats import beta

    return 1.0 if wrong == lots else float(beta.ppf(confidence, wrong + 1, lots - wrong))


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
        [
            sys.executable,
            "-m",
            "siteplan",
            "screen",
            *given,
            "--out",
            str(home / f"out-{count}"),
            "--workers",
            str(workers),
        ],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=False,
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return spent, after.ru_maxrss // 1024


def watched(home: Path, count: int, workers: int) -> Path:
    """A county over a raster of 10 000 by 10 000 cells screened.

    What has been spent and held, each time so many lots more are done.
    """
    import county

    paths = county.county(home / "in", count, tile=1024, least=10_000)
    given = [f"--{name}={path}" for name, path in paths.items()]
    command = [sys.executable, "-m", "siteplan", "screen", *given, "--name", "parcel", "--out", str(home / "out")]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "start_new_session": False}
    began = subprocess.Popen([*command, "--workers", str(workers)], env=os.environ | {"PYTHONPATH": str(REPO)}, **quiet)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    parts, told, seen = home / ".out.siteplan-answers", home / "growth.csv", 0
    spent: dict[int, float] = {}
    held = 0
    with told.open("w", encoding="utf-8") as file:
        print("lots,core_seconds,largest_process_mib", file=file)
        while began.poll() is None:
            time.sleep(0.2)
            for process in tree_of(began.pid):
                seconds, memory = usage(process)
                spent[process] = max(seconds, spent.get(process, 0.0))
                held = max(held, memory)
            done = min(count, 100 * len(list(parts.glob("*.jsonl")))) if parts.is_dir() else seen
            if done > seen:
                seen = done
                print(f"{done},{sum(spent.values()):.2f},{held}", file=file, flush=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)  # the files of the end too
        seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        print(f"{count},{seconds:.2f},{max(held, after.ru_maxrss // 1024)}", file=file)
    assert began.returncode in {0, 1}
    return told


def tree_of(process: int) -> list[int]:
    """A process and all below it."""
    above = {}
    for entry in Path("/proc").iterdir():
        with contextlib.suppress(OSError, ValueError, IndexError):
            if entry.name.isdigit():
                above[int(entry.name)] = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
    found = [process]
    for one in found:
        found += [child for child, parent in above.items() if parent == one]
    return found


def usage(process: int) -> tuple[float, int]:
    """Seconds of one core that a process has taken, and the most memory it held [MiB]; nothing where it has ended."""
    with contextlib.suppress(OSError, ValueError, IndexError):
        stat = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
        status = Path(f"/proc/{process}/status").read_text()
        peak = next((int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM:")), 0)
        return (int(stat[11]) + int(stat[12])) / os.sysconf("SC_CLK_TCK"), peak // 1024
    return 0.0, 0


def growth(told: Path) -> tuple[list[int], list[float], list[int]]:
    with told.open(encoding="utf-8") as file:
        rows = [
            (int(row["lots"]), float(row["core_seconds"]), int(row["largest_process_mib"]))
            for row in csv.DictReader(file)
        ]
    return [row[0] for row in rows], [row[1] for row in rows], [row[2] for row in rows]


def slope_of(told: Path) -> float:
    """The power of the number of lots that seconds grow with, from a tenth of them on."""
    lots, seconds, _ = growth(told)
    late = [k for k, one in enumerate(lots) if one >= lots[-1] / 10]
    return float(np.polyfit(np.log([lots[k] for k in late]), np.log([seconds[k] for k in late]), 1)[0])


def draw(told: Path, out: Path) -> None:
    """Seconds and memory against lots, as a picture whose bytes hang on its figures alone."""
    import matplotlib as mpl

    mpl.use("svg")
    from matplotlib import pyplot as plt

    lots, seconds, memory = growth(told)
    with mpl.rc_context(
        {"svg.hashsalt": "screen", "font.family": "DejaVu Sans", "font.size": 11, "svg.fonttype": "path"}
    ):
        figure, axes = plt.subplots(1, 2, figsize=(9.6, 3.6), layout="constrained")
        for axis, values, title in (
            (axes[0], seconds, "seconds of one core, in all"),
            (axes[1], memory, "MiB, the largest process"),
        ):
            axis.plot(lots, values, color="#14507a", linewidth=2)
            axis.set(title=title, xlabel="lots screened", xlim=(0, None), ylim=(0, max(values) * 1.15))
            axis.grid(color="#dddddd", linewidth=0.8)
            axis.spines[["top", "right"]].set_visible(False)
        figure.savefig(out, metadata={"Date": None, "Creator": None})
        plt.close(figure)


def tell(found: Counter[tuple[str, bool]]) -> None:
    """How it stands, every ten lots: a run that is stopped has told what it found."""
    if found.total() % 10 == 0:
        works, wrong, short, drained = wrongly(found)
        print(
            (
                f"{found.total()} lots: {works} said to drain, {wrong} of them do not; {short} said to be short, "
                f"{drained} of them drain; share wrong under {bound(works, wrong):.3f}"
            ),
            flush=True,
        )


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
    parser.add_argument("--county", type=int, default=0, metavar="LOTS")
    parser.add_argument("--keep", type=Path, metavar="DIR", help="new folder for --county; it stays")
    parser.add_argument("--draw", type=Path, nargs=2, metavar=("CSV", "FILE"))
    asked = parser.parse_args()
    if asked.draw:
        draw(*asked.draw)
        print(f"seconds grow with lots to the power {slope_of(asked.draw[0]):.2f}")
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        if asked.plans:
            found = against_plans(home, asked.plans, asked.noise, each=tell)
            for (state, drained), number in sorted(found.items()):
                print(f"screen {state:12} full plan {'drains' if drained else 'does not'}: {number}")
            works, false_works, short, false_short = wrongly(found)
            print(
                f"said to drain {works}, of them do not {false_works}; said to be short {short}, of them "
                f"drain {false_short}"
            )
        if asked.county:
            told_of = watched(asked.keep or home, asked.county, asked.workers)
            lots, seconds, memory = growth(told_of)
            print(f"{lots[-1]} lots: {seconds[-1]:.1f} s of one core, at most {memory[-1]} MiB in one process")
            print(f"seconds grow with lots to the power {slope_of(told_of):.2f}")
        told = []
        for count in asked.grow:
            seconds, memory = grown(home, count, asked.workers, asked.cell)
            told.append((count, seconds))
            print(
                (
                    f"{count} lots: {seconds:.1f} s of all cores together, {seconds / count:.3f} s a lot, at most "
                    f"{memory} MiB in one process"
                ),
                flush=True,
            )
        if len(told) > 1:
            slope = np.polyfit(np.log([one[0] for one in told]), np.log([one[1] for one in told]), 1)[0]
            print(f"seconds grow with lots to the power {slope:.2f}")


if __name__ == "__main__":
    main()
