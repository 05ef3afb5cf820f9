"""Many lots: killed on the way and gone on with, on processes and on a cluster that loses a worker.

The same bytes, and what a lot costs.

python benchmarks/batch.py --lots 24 [--broken 3] [--cluster]           plain lots with one line each
python benchmarks/batch.py --lots 500 --broken 10 --cluster --keep DIR  as many as a subdivision has; the folders stay
python benchmarks/batch.py --cost 12 [--several] [--workers 1]          in a batch, against the same lots cold and one by one

The package that is measured is the one beside this file: begin a long run in a tree that nobody edits meanwhile.
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
from collections.abc import Iterator
from pathlib import Path

REPO = Path(__file__).parents[1]
sys.path[:0] = [str(REPO / "tests" / "doors"), str(REPO / "tests" / "batch"), str(REPO / "tests" / "builders")]
HERE = os.environ | {"PYTHONPATH": str(REPO)}
ONE_THREAD = HERE | dict.fromkeys(("OMP_NUM_THREADS", "MKL_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
QUIET = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
Told = Iterator[tuple[str, object]]


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


def different(one: Path, other: Path) -> list[str]:
    """Files that do not stand in both folders with the same bytes."""
    a, b = digests(one), digests(other)
    return sorted(name for name in a.keys() | b.keys() if a.get(name) != b.get(name))


def ended(began: subprocess.Popen[bytes]) -> tuple[int, float, int]:
    """Exit code of a command, seconds of all cores it and its processes took.

    Also the greatest memory of one of them [MiB].
    """
    before = cpu()
    code = began.wait()
    return code, cpu() - before, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024


def cpu() -> float:
    """Seconds of all cores that ended children have taken."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def killed_at(sites: Path, out: Path, records: int, *options: str, group: bool) -> tuple[int, int]:
    """Begin, and kill without warning when so many lots are done: the command alone or its whole group.

    Gives how many lots are done then, and how many of its processes outlive it.
    """
    given = command(sites, out, *options)
    began = subprocess.Popen(given, start_new_session=True, env=HERE, **QUIET)
    while began.poll() is None and done(out) < records:
        time.sleep(0.05)
    helpers = children_of(began.pid)
    if group:
        os.killpg(began.pid, signal.SIGKILL)
    else:
        began.send_signal(signal.SIGKILL)
    began.wait()
    patience = time.monotonic() + 10
    while time.monotonic() < patience and any(alive(one) for one in helpers):
        time.sleep(0.1)
    return done(out), sum(alive(one) for one in helpers)


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


def on_cluster(sites: Path, out: Path, home: Path, kill_at: int) -> tuple[int, int]:
    """Two workers, one of which is killed without warning when so many lots are done; exit code, and lots done then."""
    port = 18000 + os.getpid() % 2000
    address = f"tcp://127.0.0.1:{port}"
    dask = [sys.executable, "-m", "distributed.cli.dask_scheduler"]
    given = [*dask, "--host", "127.0.0.1", "--port", str(port), "--no-dashboard"]
    parts = [subprocess.Popen(given, cwd=home, env=HERE, **QUIET)]
    time.sleep(3)
    dask = [sys.executable, "-m", "distributed.cli.dask_worker"]
    given = [*dask, address, "--nthreads", "1", "--no-dashboard", "--no-nanny"]
    parts += [subprocess.Popen(given, env=ONE_THREAD, cwd=home, **QUIET) for _ in range(2)]
    try:
        asked = command(sites, out, "--scheduler", address)
        began = subprocess.Popen(asked, env=HERE, **QUIET)
        while began.poll() is None and done(out) < kill_at:
            time.sleep(0.05)
        parts[-1].send_signal(signal.SIGKILL)
        before = done(out)
        return began.wait(), before
    finally:
        for part in parts:
            part.kill()
            part.wait()


def told(lots: int, broken: int, home: Path, *, cluster: bool, plain: bool) -> Told:
    """What happened, as it happens; every value is measured here."""
    sites = home / "sites"
    generated(sites, lots, broken, plain=plain)
    yield "lots", lots
    yield "broken", broken
    began = time.monotonic()
    code, spent, memory = ended(subprocess.Popen(command(sites, home / "whole", "--workers", "2"), env=HERE, **QUIET))
    took = time.monotonic() - began
    yield "exit code", code
    yield "seconds a lot by the clock, 2 processes", round(took / lots, 2)
    yield "seconds of one core a lot", round(spent / lots, 2)
    yield "greatest memory of one process [MiB]", memory
    early, left = killed_at(sites, home / "killed", lots // 4, "--workers", "2", group=False)
    yield "done when the command was killed", early
    yield "processes that outlived it", left
    before, left = killed_at(sites, home / "killed", lots // 2, "--workers", "2", group=True)
    yield "done when the whole group was killed", before
    yield "processes that outlived that", left
    began = time.monotonic()
    again = command(sites, home / "killed", "--workers", "2", "--json")
    ran = subprocess.run(again, env=HERE, capture_output=True, text=True, check=False)
    yield "planned after it", int(ran.stdout.partition('"planned": ')[2].partition(",")[0])
    yield "seconds of that run", round(time.monotonic() - began, 1)
    yield "files that differ after the kills", different(home / "whole", home / "killed")
    if cluster:
        code, before = on_cluster(sites, home / "cluster", home, lots // 3)
        yield "exit code on the cluster", code
        yield "done when a worker of the cluster was killed", before
        yield "files that differ on a cluster that lost a worker", different(home / "whole", home / "cluster")


def cost(lots: int, home: Path, *, plain: bool, workers: int) -> Told:
    """What a lot costs in a batch, and the same lots cold and one by one."""
    sites = home / "sites"
    generated(sites, lots, 0, plain=plain)
    subprocess.run(_cold(sites / "lot-0000", home / "warm"), env=ONE_THREAD, check=False, **QUIET)  # compiles once
    given = command(sites, home / "out", "--workers", str(workers))
    _, spent, _ = ended(subprocess.Popen(given, env=HERE, **QUIET))
    yield "lots", lots
    yield "seconds of one core a lot in a batch", round(spent / lots, 3)
    singly = cpu()
    for site in sorted(sites.iterdir()):
        subprocess.run(_cold(site, home / "cold"), env=ONE_THREAD, check=False, **QUIET)
    singly = cpu() - singly
    yield "seconds of one core a lot cold, one by one", round(singly / lots, 3)
    yield "ratio", round(spent / singly, 3)


def _cold(site: Path, out: Path) -> list[str]:
    return [sys.executable, "-m", "siteplan", "plan", str(site), "--out", str(out), "--layouts", "1"]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--lots", type=int, default=0)
    parser.add_argument("--broken", type=int, default=3)
    parser.add_argument("--cluster", action="store_true")
    parser.add_argument("--several", action="store_true", help="random lots of several sources, in place of plain ones")
    parser.add_argument("--cost", type=int, default=0, metavar="LOTS")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--keep", type=Path, metavar="DIR", help="new folder to work in; it stays")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        home = asked.keep or Path(folder)
        if asked.lots:
            show(told(asked.lots, asked.broken, home / "told", cluster=asked.cluster, plain=not asked.several))
        if asked.cost:
            show(cost(asked.cost, home / "cost", plain=not asked.several, workers=asked.workers))


def show(lines: Told) -> None:
    for name, value in lines:
        print(f"{name}: {value}", flush=True)


if __name__ == "__main__":
    main()
