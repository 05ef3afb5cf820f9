"""A plan with other layouts beside it against the plan alone: the whole command, and how many layouts there were.

    python benchmarks/choices.py [ROUNDS]

Whole processes in turn, medians of their own processor time (user and system): a busy machine does not move it much.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

SAMPLES = Path(__file__).parents[1] / "sample_sites"


def spent(site: Path, out: Path, count: int) -> float:
    """Processor time of one plan [s]."""
    command = [sys.executable, "-m", "siteplan", "plan", str(site), "--layouts", str(count), "--out", str(out)]
    before = os.times()
    subprocess.run(command, capture_output=True, check=False)
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


def main(rounds: int) -> None:
    """Print a row a sample, and the plans' ratio."""
    print(f"{'site':<16}{'alone':>9}{'beside':>9}{'ratio':>8}{'layouts':>9}  tried in vain")
    for site in sorted(one.parent for one in SAMPLES.glob("*/site.toml")):
        with tempfile.TemporaryDirectory() as room:
            out = Path(room) / "plan"
            spent(site, out, 1)
            alone, beside = [], []
            for _ in range(rounds):
                alone.append(spent(site, out, 1))
                beside.append(spent(site, out, 3))
            plan = json.loads((out / "plan.json").read_text("utf-8"))
        one, other = statistics.median(alone), statistics.median(beside)
        said = "; ".join(left["text"] for left in plan["layouts_left"])
        print(
            f"{site.name:<16}{one:>7.1f} s{other:>7.1f} s{other / one:>8.2f}{len(plan['layouts']):>9}  {said}",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
