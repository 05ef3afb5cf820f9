"""`siteplan plan` from a cold start to files, as a ratio to a Python that only imports the libraries it uses.

    python benchmarks/whole_command.py

Whole processes, in turn, medians. The second peer also makes numba ready to run one cached function, which
imports the rest of numba and is library time too.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

SAMPLES = Path(__file__).parents[1] / "sample_sites"
ROUNDS = 5
IMPORTS = "import numpy, shapely, pyproj, rasterio, numba, contourpy, folium"
READY = f"{IMPORTS}\nimport numpy as np\nfrom siteplan.routes.kernels import by_node\nby_node(np.zeros(1, np.int32), 1)"


def seconds(command: list[str]) -> float:
    """Processor time of one process and its children, user and system: a busy machine moves it least."""
    began = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, capture_output=True, check=False)
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return ended.ru_utime + ended.ru_stime - began.ru_utime - began.ru_stime


def main() -> None:
    """Print the table."""
    print(f"{'sample':<14}{'plan s':>8}{'imports s':>11}{'ratio':>7}{'imports, numba ready s':>24}{'ratio':>7}")
    with tempfile.TemporaryDirectory() as out:
        for site in sorted(path.name for path in SAMPLES.iterdir() if (path / "site.toml").exists()):
            commands = {
                "plan": [sys.executable, "-m", "siteplan", "plan", str(SAMPLES / site), "--out", str(Path(out) / site)],
                "imports": [sys.executable, "-c", IMPORTS],
                "ready": [sys.executable, "-c", READY],
            }
            spent: dict[str, list[float]] = {name: [] for name in commands}
            for command in commands.values():
                seconds(command)
            for _ in range(ROUNDS):
                for name, command in commands.items():
                    spent[name].append(seconds(command))
            plan, imports, ready = (statistics.median(spent[name]) for name in commands)
            print(f"{site:<14}{plan:>8.2f}{imports:>11.2f}{plan / imports:>7.2f}{ready:>24.2f}{plan / ready:>7.2f}")


if __name__ == "__main__":
    main()
