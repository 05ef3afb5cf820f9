"""No label over another, none cut off, none over a symbol of a fitting.

Measured with the font's own widths, read by another library.
"""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest
from sheet_labels import font_widths, measured

from siteplan.plotting.shapes import Lettering


@pytest.fixture(scope="session")
def widths():
    return font_widths()


@pytest.mark.parametrize(("name", "paper"), [("alder-court", "letter"), ("marsh-lane", "a4")])
def test_on_samples(sample_plan, widths, name, paper):
    folder = sample_plan(name).folder
    site = Path(__file__).parents[2] / "sample_sites" / name
    from siteplan.plotting.paper_sizes import PAPERS

    assert paper in {one.name for one in PAPERS}
    measured(folder, widths, paper=paper, site=site)


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["letter", "tabloid", "a4", "a3"])
@pytest.mark.parametrize("name", ["alder-court", "marsh-lane", "kiln-rise", "long-meadow", "quince-terrace"])
def test_on_every_sample_and_paper(sample_plan, widths, name, paper):
    measured(sample_plan(name).folder, widths, paper=paper)


def test_two_labels_that_want_one_place_stand_apart():
    from siteplan.plotting.paper_sizes import Box
    from siteplan.plotting.placing import Label, place_labels

    room = Box(left=0, bottom=0, right=60, top=40)
    labels = [Label(layer="places", lines=("0+10.0 inv 99.00", "wye"), spot=(30.0, 20.0)) for _ in range(4)]
    put = place_labels(labels, room, keep_off=[], pipes=[((0, 20), (60, 20))], thin=[])
    covers = [SimpleNamespace(x=one.x, y=one.y) for one in put.shapes if isinstance(one, Lettering)]
    assert len(covers) + 2 * len(put.left) == 8
    assert len({(round(one.x, 2), round(one.y, 2)) for one in covers}) == len(covers)
