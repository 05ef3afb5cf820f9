"""Writes the example rods and what the commands of the walks print.

Tests/doors/test_walks.py fails when a page is stale.

A block ```console holds commands (`$ siteplan ...`) and, under each, the lines of its output that hold one of the
pieces named in the comment above the block (`<!-- shows: ACCEPT | Grade: -->`); `[exit 1]` stands where the exit code
is not 0. A block ```csv shows the first rows of the example rods. Run `python docs/make_walks.py` when the sample's
figures moved.
"""  # noqa: INP001 - a script, no package

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import shlex
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGES = ("walk-contractor.md", "walk-inspector.md", "walk-designer.md")
BROUGHT = ("walk-crew.csv", "walk-lot")  # what the designer brings, and what the drawing table saved of it
RODS = Path(__file__).resolve().parent / "walk-rods.csv"
SHOWN = 7  # rows of the rods on the page
_BLOCK = re.compile(
    r"(?P<lead>(?:^ *<!-- shows: (?P<shows>[^\n]*) -->\n)?)(?P<in> *)```console\n(?P<body>.*?)^ *```$",
    re.DOTALL | re.MULTILINE,
)
_CSV = re.compile(r"^(?P<in> *)```csv\n.*?^ *```$", re.DOTALL | re.MULTILINE)


def ran(command: str, folder: Path) -> tuple[int, str]:
    """Exit code and output of a command, run in a folder."""
    from siteplan.cli.main import main

    out, here = io.StringIO(), Path.cwd()
    os.chdir(folder)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
            try:
                code = main(shlex.split(command)[1:])
            except SystemExit as end:
                code = int(end.code or 0)
    finally:
        os.chdir(here)
    return code, out.getvalue()


def rods(folder: Path) -> str:
    """Rods as the cut sheet asks for them: what a crew reads on pipe that lies where it was designed."""
    code, out = ran("siteplan cutsheet alder-plan --benchmark 100.00 --backsight 4.20 --json", folder)
    if code:
        raise RuntimeError(out)
    rows = ["line,sta,rod,name"]
    for line in json.loads(out)["lines"]:
        for target in line["targets"]:
            note = target["note"]
            name = (
                "CO"
                if "cleanout" in note
                else "wye"
                if "wye" in note
                else "bend"
                if re.search(r"\bbend \d", note)
                else ""
            )
            rows.append(f"{line['line']},{target['printed']['station']},{target['printed']['rod_top']},{name}")
    return "\n".join(rows) + "\n"


def workshop(folder: Path) -> None:
    """The folder in which a reader stands: the samples, and the docs with the example rods."""
    (folder / "sample_sites").symlink_to(ROOT / "sample_sites")
    (folder / "docs").mkdir()
    for name in BROUGHT:
        (folder / "docs" / name).symlink_to(ROOT / "docs" / name)
    (folder / "docs" / RODS.name).write_bytes(RODS.read_bytes() if RODS.exists() else b"")


def written(page: str, folder: Path) -> str:
    """A page with its blocks as the commands print them now."""

    def console(found: re.Match[str]) -> str:
        shows = [piece.strip() for piece in (found["shows"] or "").split("|") if piece.strip()]
        body = []
        for line in found["body"].splitlines():
            command = line.strip()
            if not command.startswith("$ "):
                continue
            code, out = ran(command[2:], folder)
            body.append(command)
            kept = [text.strip() for text in out.splitlines() if any(piece in text for piece in shows)]
            body += [*kept, *([f"[exit {code}]"] if code else [])]
        inside = "\n".join(found["in"] + text for text in body)
        return f"{found['lead']}{found['in']}```console\n{inside}\n{found['in']}```"

    def table(found: re.Match[str]) -> str:
        first = (folder / "docs" / RODS.name).read_text(encoding="utf-8").splitlines()[:SHOWN]
        inside = "\n".join(found["in"] + text for text in first)
        return f"{found['in']}```csv\n{inside}\n{found['in']}```"

    return _CSV.sub(table, _BLOCK.sub(console, page))


def main() -> None:
    """Rods first, then the pages."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        workshop(folder)
        ran("siteplan plan sample_sites/alder-court --out alder-plan", folder)
        RODS.write_text(rods(folder), encoding="utf-8")
    for page in PAGES:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            workshop(folder)
            path = RODS.parent / page
            path.write_text(written(path.read_text(encoding="utf-8"), folder), encoding="utf-8")


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    main()
