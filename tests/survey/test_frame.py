"""Frames against geodesics, and the two feet against their definitions."""

from __future__ import annotations

import logging

import numpy as np
import pytest
from pyproj import CRS, Geod, Transformer

from siteplan.errors import InputError
from siteplan.survey.frame import axis_unit, choose_frame, crs_of, horizontal, mover, quiet, scale_error, unit_of_factor

PLACES = [
    ("EPSG:26918", -74.0, 40.7),
    ("EPSG:2263", -74.0, 40.7),
    ("EPSG:6539", -73.4, 40.8),
    ("EPSG:3857", 151.2, -33.9),
    ("EPSG:4326", 179.9999, -16.5),
    ("EPSG:4269", -74.0, 40.7),
    ("EPSG:27572", 2.3, 48.8),  # grads and the Paris meridian beneath
    ("EPSG:2053", 28.0, -26.0),  # axes run west and south
    ("EPSG:5041", 10.0, 85.0),
    ("EPSG:3794", 15.7, 46.5),
    ("EPSG:26718", -74.0, 40.7),
]


@pytest.mark.parametrize(("code", "lon", "lat"), PLACES)
def test_lengths_in_the_frame_are_true(code, lon, lat):
    crs = horizontal(CRS.from_user_input(code), "crs")
    base = crs.geodetic_crs
    x, y = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(lon, lat)
    frame = choose_frame(crs, x, y, "m")
    assert frame.crs is not None
    assert CRS.from_user_input(frame.text) == frame.crs
    assert frame.crs.axis_info[0].unit_name == "metre"
    scale = 0.002 if frame.crs is crs else 1e-7
    # a point 30 m north-east by the geodesic, through degrees on the same datum
    greenwich = (
        CRS.from_dict({"proj": "longlat", "a": base.ellipsoid.semi_major_metre, "b": base.ellipsoid.semi_minor_metre})
        if code == "EPSG:27572"
        else base
    )
    lon0, lat0 = mover(crs, base)(np.array([x]), np.array([y]))
    degree = np.degrees(base.axis_info[0].unit_conversion_factor)
    geod = Geod(a=greenwich.ellipsoid.semi_major_metre, b=greenwich.ellipsoid.semi_minor_metre)
    lon1, lat1, _ = geod.fwd(lon0 * degree, lat0 * degree, np.array([45.0]), np.array([30.0]))
    ends = [mover(base, frame.crs)(a / degree, b / degree) for a, b in ((lon0 * degree, lat0 * degree), (lon1, lat1))]
    (x0, y0), (x1, y1) = ends
    assert np.hypot(x1 - x0, y1 - y0)[0] == pytest.approx(30, abs=30 * scale + 1e-6)
    assert x1[0] > x0[0], "east is positive"
    assert y1[0] > y0[0], "north is positive"


def test_scale_error_of_known_projections():
    # UTM: 0.9996 on the central meridian by definition; web mercator: 1 / cos(latitude) on the sphere
    utm = CRS.from_epsg(32618)
    assert scale_error(utm, 500_000, 4_500_000) == pytest.approx(0.0004, abs=2e-6)
    web = CRS.from_epsg(3857)
    x, y = Transformer.from_crs("EPSG:4326", web, always_xy=True).transform(10, 60)
    assert scale_error(web, x, y) == pytest.approx(1.0, abs=0.02)
    assert scale_error(web, 1e300, 0) == float("inf")


def test_units_of_axes_are_told_apart():
    assert axis_unit(CRS.from_epsg(2263)) == "us-ft"
    assert axis_unit(CRS.from_epsg(2222)) == "ft"
    assert axis_unit(CRS.from_epsg(26918)) == "m"
    assert axis_unit(CRS.from_epsg(4326)) is None
    assert unit_of_factor(0.3048) == "ft"
    assert unit_of_factor(1200 / 3937) == "us-ft"
    assert unit_of_factor(0.9) is None


def test_local_coordinates_by_definition():
    assert mover(None, None, 1200 / 3937)(np.array([3937.0]), np.array([0.0]))[0][0] == pytest.approx(1200.0, abs=1e-9)
    x = np.array([1.5])
    assert mover(None, None)(x, x)[0] is x, "metres stay the very same numbers"


def test_the_horizontal_part():
    assert horizontal(CRS.from_user_input("EPSG:2263+6360"), "f").to_epsg() == 2263
    assert horizontal(CRS.from_epsg(4979), "f").axis_info[-1].name == "Geodetic longitude"
    assert horizontal(CRS.from_user_input("urn:ogc:def:crs:OGC:1.3:CRS84"), "f").to_epsg() == 4326
    bound = CRS.from_proj4("+proj=utm +zone=18 +ellps=GRS80 +towgs84=1,2,3 +units=m +type=crs")
    assert not horizontal(bound, "f").is_bound
    assert horizontal(CRS.from_wkt(CRS.from_epsg(26918).to_wkt("WKT1_GDAL")), "f").to_epsg() == 26918
    with pytest.raises(InputError, match=r'^f: "WGS 84" is no geographic or projected CRS\. '):
        horizontal(CRS.from_epsg(4978), "f")


@pytest.mark.parametrize("text", ["", "nonsense", "EPSG:", "EPSG:1", "+proj=zzz", "{}", "GEOGCS["])
def test_unknown_crs(text):
    with pytest.raises(InputError, match=r"^f: .* names no CRS known here\."):
        crs_of(text, "f")


def test_quiet_leaves_the_loggers_as_they_were(caplog):
    logger = logging.getLogger("rasterio._err")
    before = list(logging.getLogger("rasterio").handlers)
    with quiet():
        logger.error("hidden")
    logger.error("shown")
    assert [r.message for r in caplog.records] == ["shown"]
    assert logging.getLogger("rasterio").handlers == before
