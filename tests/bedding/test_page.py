"""docs/bedding.md: its tables are what the program computes, and what its words claim holds."""

import re
from itertools import product
from pathlib import Path

import pytest

from siteplan import units as u
from siteplan.bedding import bounds, compare, hung, weight
from siteplan.bedding.beam import end_reach
from siteplan.bedding.page import tables
from siteplan.books.stock import stock

PAGE = (Path(__file__).parents[2] / "docs" / "bedding.md").read_text(encoding="utf-8")
IN, FT, PSI = u.INCH, u.FOOT, u.PSI


def test_every_table_is_fresh():
    shown = dict(re.findall(r"<!-- table: (\S+) -->\n(.*?)\n<!-- end -->", PAGE, re.DOTALL))
    assert shown == tables()


def test_words_of_the_page_hold():
    solid, limp = stock("pvc_sch40", "4 in"), stock("pe_corr_single", "4 in")
    assert end_reach(solid.bending_short, 2000 * PSI) / FT == pytest.approx(
        3, abs=0.2
    )  # a fixed end reaches about 3 ft
    assert hung.breaking_span(solid) / FT == pytest.approx(46, abs=0.5)
    load = weight.bed_load(solid, 1.5 * FT, 120 * u.POUND_PER_CUBIC_FOOT)
    assert bounds.rock_under(solid.bending_short, load, 0.5 * IN).force / u.POUND_FORCE == pytest.approx(530, abs=10)
    assert bounds.rock_under(limp.bending_short, load, 0.5 * IN).force / u.POUND_FORCE == pytest.approx(70, abs=5)
    assert 100 * bounds.emptying_grade(IN, 10 * FT) == pytest.approx(2.6, abs=0.05)


def test_ranking_is_robust():
    """A stiffer pipe in one piece never ponds more than 0.05 in deeper than a corrugated one (a sample of the page's sweep)."""
    pipes = [stock(kind, "4 in") for kind in compare.KINDS]
    for patch, soft, drop, grade in product((4, 10), (20, 200), (0.5, 2.0), (0.0, 0.01)):
        wet = (compare.LENGTH / 2 - patch * FT / 2, compare.LENGTH / 2 + patch * FT / 2)
        ground = compare.Ground(title="", modulus=soft * PSI, drop=drop * IN, edge="sharp")
        depth = [entry.depth_long / IN for entry in compare.side_by_side(pipes, [ground], wet=wet, grade=grade)]
        assert max(depth[:2]) <= min(depth[2:]) + 0.05, (patch, soft, drop, grade)
