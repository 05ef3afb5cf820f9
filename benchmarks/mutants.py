"""One figure of the source changed at a time, and the tests run: how many such mutants do the tests find?

    python benchmarks/mutants.py [--count N] [--seed K] [--rooms books,checks,...] [--whole]

Slow, on demand. A copy of the tree is changed, never the tree itself. Figures are numbers in the code of a room (not in its
docstrings, not 0, 1 or 2, which are mostly places and powers) and numbers in the CSV files of the books; each is made half as
large again, whole numbers at least one more. For a mutant the tests of its room are run first, then those that judge from
outside (`OUTSIDE`), then with --whole all others; the first failing test ends it. What survives is printed with its place.
"""

from __future__ import annotations

import argparse
import ast
import csv
import io
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

REPO = Path(__file__).parents[1]
COPIED = ("siteplan", "tests", "sample_sites", "docs", "benchmarks", "pyproject.toml", "README.md", "DEVELOPERS.md", "CHANGELOG.md", ".ci")  # fmt: skip
ROOMS = (
    "books",
    "checks",
    "review",
    "yard",
    "trench",
    "fall",
    "water",
    "waterworks",
    "bedding",
    "laid",
    "ground",
    "routes",
    "quick",
)
OUTSIDE = (
    "tests/rules",
    "tests/published",
    "tests/doors/test_masters.py",
    "tests/doors/test_stories.py",
    "tests/doors/test_plan_command.py",
    "tests/doors/test_random_lots.py",
)
PLAIN = {0, 1, 2, -1}
PATIENCE = 900  # seconds for the tests of one mutant


class Mutant(NamedTuple):
    """A file, the place in it, what stood there and what stands there instead."""

    file: Path
    line: int
    old: str
    new: str
    text: str  # the whole file, changed


def changed(value: float) -> str:
    """Half as large again, at least one more for a whole number."""
    return str(max(value + 1, round(value * 1.5))) if isinstance(value, int) else repr(value * 1.5)


def in_code(path: Path, name: Path) -> Iterator[Mutant]:
    """Mutants of a module."""
    source = path.read_text(encoding="utf-8")
    lines = source.splitlines(keepends=True)
    for node in ast.walk(ast.parse(source)):
        if (
            not isinstance(node, ast.Constant)
            or isinstance(node.value, bool)
            or not isinstance(node.value, int | float)
        ):
            continue
        if node.value in PLAIN or node.end_lineno != node.lineno:
            continue
        row = lines[node.lineno - 1].encode()
        old = row[node.col_offset : node.end_col_offset].decode()
        row = row[: node.col_offset] + changed(node.value).encode() + row[node.end_col_offset :]
        text = "".join((*lines[: node.lineno - 1], row.decode(), *lines[node.lineno :]))
        yield Mutant(name, node.lineno, old, changed(node.value), text)


def in_table(path: Path, name: Path) -> Iterator[Mutant]:
    """Mutants of a CSV of the books."""
    rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"))))
    for r, row in enumerate(rows[1:], 1):
        for c, cell in enumerate(row):
            try:
                value = float(cell)
            except ValueError:
                continue
            new = f"{value * 1.5:g}"
            out = io.StringIO()
            csv.writer(out, lineterminator="\n").writerows([*rows[:r], [*row[:c], new, *row[c + 1 :]], *rows[r + 1 :]])
            yield Mutant(name, r + 1, f"{rows[0][c]} {cell}", new, out.getvalue())


def every_mutant(rooms: tuple[str, ...]) -> list[Mutant]:
    """All of some rooms, in the order of their files."""
    found: list[Mutant] = []
    for room in rooms:
        folder = REPO / "siteplan" / room
        for path in sorted(folder.iterdir()):
            name = path.relative_to(REPO)
            if path.suffix == ".py":
                found += in_code(path, name)
            elif path.suffix == ".csv":
                found += in_table(path, name)
    return found


def killed(copy: Path, mutant: Mutant, *, whole: bool) -> bool:
    """Whether a test fails with the mutant in place."""
    target = copy / mutant.file
    kept, times = target.read_bytes(), target.stat()
    target.write_text(mutant.text, encoding="utf-8")
    own = f"tests/{mutant.file.parts[1]}"
    stages = [[own] if (copy / own).is_dir() else [], [test for test in OUTSIDE if (copy / test).exists()]]
    stages += [["tests"]] if whole else []
    try:
        for tests in (stage for stage in stages if stage):
            try:
                done = subprocess.run(
                    [sys.executable, "-m", "pytest", "-q", "-x", *tests],
                    cwd=copy,
                    capture_output=True,
                    check=False,
                    timeout=PATIENCE,
                    env={**os.environ, "PYTHONPATH": str(copy)},
                )
            except subprocess.TimeoutExpired:
                return True
            if done.returncode != 0:
                return True
        return False
    finally:
        target.write_bytes(kept)
        os.utime(target, ns=(times.st_atime_ns, times.st_mtime_ns))


def main() -> int:
    """Try them, print the survivors."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rooms", default=",".join(ROOMS))
    parser.add_argument("--whole", action="store_true")
    asked = parser.parse_args()
    offered = every_mutant(tuple(asked.rooms.split(",")))
    chosen = random.Random(asked.seed).sample(offered, min(asked.count, len(offered)))
    dead = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in COPIED:
            source = REPO / name
            (shutil.copytree if source.is_dir() else shutil.copy2)(source, copy / name)
        for number, mutant in enumerate(chosen, 1):
            found = killed(copy, mutant, whole=asked.whole)
            dead += found
            state = "killed  " if found else "SURVIVES"
            print(f"{number:4d} {state} {mutant.file}:{mutant.line}  {mutant.old} -> {mutant.new}", flush=True)
    print(
        f"{dead} of {len(chosen)} killed ({100 * dead / max(1, len(chosen)):.0f} %), of {len(offered)} that could be made"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
