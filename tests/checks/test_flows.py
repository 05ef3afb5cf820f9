"""Rain as the recheck reads it: nothing beyond the ends of a table."""

from __future__ import annotations

import pytest

from siteplan.checks.flows import rain_over, source_flow
from siteplan.checks.scene import scene_of

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
