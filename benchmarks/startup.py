"""Cold start of the quick commands as a ratio to a bare interpreter's start; aim: at most 3.

Run: python benchmarks/startup.py [repeats]. Each round times every command once, bare start among them, so that a
busy machine slows all alike; printed are the medians. Byte code is kept in a folder of its own, as any install keeps
it; with `--no-bytecode` every start compiles our sources again, which is the worst a machine can be set to.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

AIM = 3.0


def main() -> int:
    bytecode = "--no-bytecode" not in sys.argv
    counts = [int(argument) for argument in sys.argv[1:] if argument.isdigit()]
    repeats = counts[0] if counts else 41
    script = shutil.which("siteplan", path=str(Path(sys.executable).parent)) or shutil.which("siteplan")
    door = [script] if script else [sys.executable, "-m", "siteplan"]
    shots = ["--rod-start", "4.86", "--rod-outlet", "7.50", "--length", "84", "--outlet", "curb"]
    commands = {
        "bare interpreter": [sys.executable, "-c", "pass"],
        "siteplan --help": [*door, "--help"],
        "siteplan fall --help": [*door, "fall", "--help"],
        "siteplan fall, a run": [*door, "fall", *shots],
        "siteplan fall --json": [*door, "fall", *shots, "--json"],
    }
    times: dict[str, list[float]] = {name: [] for name in commands}
    with tempfile.TemporaryDirectory() as cache:
        environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}
        if bytecode:
            environment.pop("PYTHONDONTWRITEBYTECODE")
            environment["PYTHONPYCACHEPREFIX"] = cache
        for _ in range(repeats + 1):  # the first round writes the byte code and warms the disk; it is dropped
            for name, command in commands.items():
                begun = time.perf_counter()
                subprocess.run(command, stdout=subprocess.DEVNULL, check=True, env=environment)
                times[name].append(time.perf_counter() - begun)
    bare = statistics.median(times["bare interpreter"][1:])
    worst = 0.0
    print(f"{'command':<24}{'ms':>8}{'ratio':>8}")
    for name, all_times in times.items():
        median = statistics.median(all_times[1:])
        worst = max(worst, median / bare)
        print(f"{name:<24}{median * 1000:>8.1f}{median / bare:>8.2f}")
    print(f"worst ratio {worst:.2f}, aim {AIM:.1f}")
    return 0 if worst <= AIM else 1


if __name__ == "__main__":
    sys.exit(main())
