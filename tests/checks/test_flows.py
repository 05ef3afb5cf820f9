"""Rain as the recheck reads it: nothing beyond the ends of a table."""

from __future__ import annotations

import pytest

from siteplan.books.pipes import pipe
from siteplan.checks.flows import entry_of, rain_over, source_flow
from siteplan.checks.pipe_flow import printed_row
from siteplan.checks.scene import scene_of
from siteplan.site import Sizing

TABLE = ((900.0, 4e-5), (3600.0, 1e-5))  # 15 and 60 minutes


@pytest.mark.parametrize(
    ("duration", "rate"), [(300.0, None), (899.0, None), (900.0, 4e-5), (1800.0, 2e-5), (3600.0, 1e-5), (3601.0, None)]
)
def test_rain_beyond_the_table_has_no_rate(scenes, duration, rate):
    plan, site = scenes.build(rain={"table": TABLE, "duration": duration})
    scene = scene_of(plan, site)
    found = rain_over(scene, duration)
    brings = source_flow(scene, site.sources[0])
    if rate is None:
        assert found is None
        assert brings is None
    else:
        assert found == pytest.approx(rate)
        assert brings == pytest.approx(50.0 * rate)  # 50 m2 of roof


@pytest.mark.parametrize(("short_of", "gallons"), [(0.0, 115), (0.9e-5, 115), (1.2e-5, 81)])
def test_a_printed_slope_is_met_to_what_a_plan_writes_and_no_less(short_of, gallons):
    """International Plumbing Code 2018, table 1106.2 (read): 4 in carries 81 gpm at 1/16 in per ft and 115 at 1/8."""
    row = printed_row(Sizing(basis="ipc-2018"), pipe("pvc_sdr35", "4 in"), 1 / 96 - short_of)
    assert row is not None
    assert row.flow == pytest.approx(gallons * 6.30902e-5, rel=1e-4)


@pytest.mark.parametrize(
    ("kind", "printed"),
    [("pvc_sch40", True), ("pvc_sdr35", True), ("pe_corr_dual", True), ("pe_corr_single", False)],
)
def test_printed_tables_speak_of_smooth_pipe_alone(kind, printed):
    """Corrugated tubing of n 0.017 carries two thirds of it.

    Smooth plastic runs to 0.013 (Caltrans Highway Design Manual, table 851.2, quoted).
    """
    assert (printed_row(Sizing(basis="ipc-2018"), pipe(kind, "4 in"), 0.0208) is not None) == printed


@pytest.mark.parametrize(("at", "station"), [([22.0, 20.2], 12.0), ([30.1, 24.9], 25.0)])
def test_water_that_drops_into_a_passing_line_comes_in_at_the_nearest_vertex(scenes, at, station):
    """A line 12 m west to east, 8 m on, and 5 m north: its vertices stand at 0, 12, 20 and 25 m."""
    sources = [
        {"id": "S1", "kind": "downspout", "name": "DS-1", "at": [30.0, 25.0], "roof_area": 50.0},
        {"id": "S2", "kind": "downspout", "name": "DS-2", "at": at, "roof_area": 50.0},
    ]
    path = [[10.0, 20.0], [22.0, 20.0], [30.0, 20.0], [30.0, 25.0]]
    line = {"id": "L1", "start": "S1", "end": "O1", "sources": ["S1", "S2"], "path": path, "grade": 0.02, "reaches": []}
    plan, site = scenes.build(sources=sources, lines=[line], features=[])
    scene = scene_of(plan, site)
    assert entry_of(scene, site.sources[1]) == (plan.lines[0], pytest.approx(station))
