"""The walks of the docs, command by command.

What the pages print is what the commands print, and good pipe is accepted.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

pytestmark = pytest.mark.usefixtures("usual_layouts")

DOCS = Path(__file__).parents[2] / "docs"
FIX = "stale: run python docs/make_walks.py"


@pytest.fixture(scope="module")
def walks():
    spec = importlib.util.spec_from_file_location("make_walks", DOCS / "make_walks.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def workshop(walks, tmp_path_factory):
    """A reader's folder after the contractor's walk, and the page as the commands wrote it."""
    folder = tmp_path_factory.mktemp("walk")
    walks.workshop(folder)
    page = (DOCS / "walk-contractor.md").read_text(encoding="utf-8")
    return folder, page, walks.written(page, folder)


def test_the_contractors_walk_prints_what_the_page_shows(workshop):
    _, page, now = workshop
    assert now == page, FIX


def test_good_pipe_is_accepted_and_handed_over(workshop):
    folder, _, now = workshop
    assert now.count("\n   ACCEPT\n") == 2
    assert "[exit" not in now
    assert {path.name for path in (folder / "alder-record").iterdir()} == {"record.gpkg", "record.html", "owner.html"}


def test_the_example_rods_are_those_of_the_samples_sheet(walks, workshop):
    folder, _, _ = workshop
    assert walks.rods(folder) == walks.RODS.read_text(encoding="utf-8"), FIX


@pytest.mark.parametrize("page", ["walk-inspector.md"])
def test_the_inspectors_walk_prints_what_the_page_shows(walks, tmp_path, page):
    walks.workshop(tmp_path)
    text = (DOCS / page).read_text(encoding="utf-8")
    now = walks.written(text, tmp_path)
    assert now == text, FIX
    assert "\n   ACCEPT\n" in now


def test_the_designers_walk_prints_what_the_page_shows(walks, tmp_path):
    walks.workshop(tmp_path)
    text = (DOCS / "walk-designer.md").read_text(encoding="utf-8")
    now = walks.written(text, tmp_path)
    assert now == text, FIX
    assert "no fails" in now
    assert "[exit 2]" not in now


def test_rods_without_a_name_are_accepted_and_a_sag_among_them_is_not(walks, workshop):
    folder, _, _ = workshop
    rows = [row.rpartition(",")[0] + "," for row in walks.RODS.read_text(encoding="utf-8").splitlines()[1:]]
    told = "siteplan asbuilt alder-plan plain.csv --line L1 --benchmark 100.00 --backsight 4.20 --check-back 4.20"
    (folder / "plain.csv").write_text("\n".join(["line,sta,rod,name", *rows]) + "\n", encoding="utf-8")
    code, out = walks.ran(told, folder)
    assert (code, out.splitlines()[0]) == (0, "ACCEPT")
    at = next(i for i, row in enumerate(rows) if row.startswith("L1,0+80.0"))
    line, sta, rod, _ = rows[at].split(",")
    rows[at] = f"{line},{sta},{float(rod) + 0.3:.2f},"
    (folder / "plain.csv").write_text("\n".join(["line,sta,rod,name", *rows]) + "\n", encoding="utf-8")
    code, out = walks.ran(told, folder)
    assert code == 1
    assert "ACCEPT" not in out.splitlines()[0]
