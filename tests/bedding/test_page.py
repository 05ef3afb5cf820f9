"""docs/bedding.md: its tables are what the program computes, and what its words claim holds."""

import math
import re
from itertools import product
from pathlib import Path

import make_bedding as compare
import pytest
from closed_forms import emptying_grade, rock_under

from siteplan import units as u
from siteplan.bedding import weight
from siteplan.bedding.beam import bent_line
from siteplan.books.stock import stock

PAGE = (Path(__file__).parents[2] / "docs" / "bedding.md").read_text(encoding="utf-8")
IN, FT, PSI = u.INCH, u.FOOT, u.PSI


def test_every_table_is_fresh():
    shown = dict(re.findall(r"<!-- table: (\S+) -->\n(.*?)\n<!-- end -->", PAGE, re.DOTALL))
    assert shown == compare.tables()


def test_words_of_the_page_hold():
    solid, limp = stock("pvc_sch40", "4 in"), stock("pe_corr_single", "4 in")
    load = weight.bed_load(solid, 1.5 * FT, 120 * u.POUND_PER_CUBIC_FOOT)
    assert rock_under(solid.bending_short, load, 0.5 * IN).force / u.POUND_FORCE == pytest.approx(530, abs=10)
    assert rock_under(limp.bending_short, load, 0.5 * IN).force / u.POUND_FORCE == pytest.approx(70, abs=5)
    assert 100 * emptying_grade(IN, 10 * FT) == pytest.approx(2.6, abs=0.05)


def _hung(pipe, span, bending):
    """A pipe full of water that turns freely over two hangers, by the beam."""
    load = weight.weight_in_air(pipe, 1.0)
    return bent_line(span, bending=bending, modulus=0.0, load=load, ends=("pinned", "pinned"), breaks=[span / 2])


def test_sayings_of_hung_pipe():
    """Common practice, no source: hangers every 4 ft, some say 5; the share of 1/1000 is the page's own."""
    pipe = stock("pvc_sch40", "4 in")
    slack = {span: _hung(pipe, span * FT, pipe.bending_long) for span in (4.15, 4.25, 5.0, 6.0, 6.2)}
    assert slack[4.15].sag.max() < 4.15 * FT / 1000
    assert slack[4.25].sag.max() > 4.25 * FT / 1000
    assert slack[5.0].slope.max() < slack[6.0].slope.max() < 0.01 < slack[6.2].slope.max()
    inner = pipe.pipe.od - 2 * pipe.pipe.wall
    section = math.pi / 32 * (pipe.pipe.od**4 - inner**4) / pipe.pipe.od
    strength = 7450 * PSI  # in tension at once, typical of a PVC property sheet (read)
    stress = {span: _hung(pipe, span * FT, pipe.bending_short).moment.max() / section for span in (45, 47)}
    assert stress[45] < strength < stress[47]


def test_ranking_is_robust():
    """A stiffer pipe in one piece never ponds more than 0.05 in deeper than a corrugated one (a sample of the page's sweep)."""
    pipes = [stock(kind, "4 in") for kind in compare.KINDS]
    for patch, soft, drop, grade in product((4, 10), (20, 200), (0.5, 2.0), (0.0, 0.01)):
        wet = (compare.LENGTH / 2 - patch * FT / 2, compare.LENGTH / 2 + patch * FT / 2)
        ground = compare.Ground(title="", modulus=soft * PSI, drop=drop * IN, edge="sharp")
        depth = [entry.depth_long / IN for entry in compare.side_by_side(pipes, [ground], wet=wet, grade=grade)]
        assert max(depth[:2]) <= min(depth[2:]) + 0.05, (patch, soft, drop, grade)
