"""Many lots: killed on the way and gone on with, on processes and on a cluster that loses a worker; the same bytes, and what a lot costs.

python benchmarks/batch.py --lots 24 [--broken 3] [--cluster]
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

REPO = Path(__file__).parents[1]
sys.path[:0] = [str(REPO / "tests" / "doors"), str(REPO / "tests" / "batch"), str(REPO / "tests" / "builders")]


def command(sites: Path, out: Path, *options: str) -> list[str]:
    return [sys.executable, "-m", "siteplan", "batch", str(sites), "--out", str(out), "--layouts", "1", *options]


def generated(folder: Path, lots: int, broken: int, *, plain: bool) -> None:
    """Invented lots; so many of them with a survey that cannot be read, spread among the others."""
    import even_ground
    from batch_lots import with_bank
    from random_lots import lot

    torn = {round((k + 0.5) * lots / broken) for k in range(broken)} if broken else set()
    for seed in range(lots):
        name = folder / f"lot-{seed:04d}"
        if plain:
            point = even_ground.point
            north = 4.0 + seed % 16
            leader = point("downspout", "Leader", 30.0 + seed % 18, north, roof_area=40)
            even_ground.site_folder(name, [leader, point("daylight_outlet", "Low end", even_ground.WEST, north)])
            with_bank(name / "ground.tif")
        else:
            lot(name, seed)
        if seed in torn:
            (name / "features.geojson").write_text('{"type": "Feature', encoding="utf-8")


def digests(folder: Path) -> dict[str, str]:
    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def killed_at(sites: Path, out: Path, records: int, *options: str) -> tuple[int, int]:
    """Begin, kill the command without warning when so many lots are done; how many were, and how many of its processes outlive it."""
    began = subprocess.Popen(command(sites, out, *options), stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
    while began.poll() is None and done(out) < records:
        time.sleep(0.05)
    helpers = children_of(began.pid)
    began.send_signal(signal.SIGKILL)
    began.wait()
    before, patience = done(out), time.monotonic() + 10
    while time.monotonic() < patience and any(alive(one) for one in helpers):
        time.sleep(0.1)
    return before, sum(alive(one) for one in helpers)


def cpu() -> float:
    """Seconds of all cores that ended children have taken."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def alive(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def done(out: Path) -> int:
    return len(list((out / "records").glob("*.json"))) if (out / "records").is_dir() else 0


def children_of(process: int) -> list[int]:
    found = []
    for entry in Path("/proc").iterdir():
        with contextlib.suppress(OSError, ValueError):
            if (
                entry.name.isdigit()
                and int(entry.joinpath("stat").read_text().rpartition(")")[2].split()[1]) == process
            ):
                found.append(int(entry.name))
    return found


def on_cluster(sites: Path, out: Path, home: Path, lots: int) -> int:
    """Two workers, one of which is killed without warning at a third of the lots; exit code of the command."""
    port = 18000 + os.getpid() % 2000
    address = f"tcp://127.0.0.1:{port}"
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": home}
    dask = [sys.executable, "-m", "distributed.cli.dask_scheduler"]
    parts = [subprocess.Popen([*dask, "--host", "127.0.0.1", "--port", str(port), "--no-dashboard"], **quiet)]
    time.sleep(3)
    worker = [
        sys.executable,
        "-m",
        "distributed.cli.dask_worker",
        address,
        "--nthreads",
        "1",
        "--no-dashboard",
        "--no-nanny",
    ]
    environment = os.environ | dict.fromkeys(("OMP_NUM_THREADS", "MKL_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
    parts += [subprocess.Popen(worker, env=environment, **quiet) for _ in range(2)]
    try:
        command_ = subprocess.Popen(
            command(sites, out, "--scheduler", address), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        while command_.poll() is None and done(out) < lots // 3:
            time.sleep(0.05)
        parts[-1].send_signal(signal.SIGKILL)
        return command_.wait()
    finally:
        for part in parts:
            part.kill()
            part.wait()


def told(lots: int, broken: int, home: Path, *, cluster: bool, plain: bool) -> dict[str, object]:
    """What happened; every value is measured here."""
    sites = home / "sites"
    generated(sites, lots, broken, plain=plain)
    began, spent = time.monotonic(), cpu()
    code = subprocess.run(command(sites, home / "whole", "--workers", "2"), capture_output=True, check=False).returncode
    took, spent = time.monotonic() - began, cpu() - spent
    whole = digests(home / "whole")
    before, left = killed_at(sites, home / "killed", lots // 2, "--workers", "2")
    orphans_began = time.monotonic()
    again = subprocess.run(
        command(sites, home / "killed", "--workers", "2", "--json"), capture_output=True, text=True, check=False
    )
    found: dict[str, object] = {
        "lots": lots, "broken": broken, "exit code": code, "seconds a lot by the clock, 2 processes": round(took / lots, 2),
        "seconds of one core a lot": round(spent / lots, 2),
        "done when killed": before, "processes that outlived it": left, "planned after it": again.stdout.partition('"planned": ')[2].partition(",")[0],
        "same bytes after the kill": digests(home / "killed") == whole, "seconds of the second run": round(time.monotonic() - orphans_began, 1),
    }  # fmt: skip
    one = next(path for path in sorted(sites.iterdir()) if path.name == "lot-0000")
    began, cold = time.monotonic(), cpu()
    subprocess.run(
        [sys.executable, "-m", "siteplan", "plan", str(one), "--out", str(home / "cold"), "--layouts", "1"],
        capture_output=True,
        check=False,
    )
    found["seconds of one cold plan (lot-0000)"] = round(time.monotonic() - began, 2)
    found["seconds of one core for it"] = round(cpu() - cold, 2)
    if cluster:
        found["exit code on the cluster"] = on_cluster(sites, home / "cluster", home, lots)
        found["same bytes on a cluster that lost a worker"] = digests(home / "cluster") == whole
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lots", type=int, default=24)
    parser.add_argument("--broken", type=int, default=3)
    parser.add_argument("--cluster", action="store_true")
    parser.add_argument("--plain", action="store_true", help="lots with one line each: quick to plan")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for name, value in told(
            asked.lots, asked.broken, Path(folder), cluster=asked.cluster, plain=asked.plain
        ).items():
            print(f"{name}: {value}")


if __name__ == "__main__":
    main()
