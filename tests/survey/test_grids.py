"""Heights from GeoTIFFs: types, no-data, masks, scale, units, rotation, and the way between cells and places."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from affine import Affine

from siteplan.site import Grid, ground_near, heights
from siteplan.survey.folder import read_site
from siteplan.survey.frame import choose_frame
from siteplan.survey.grids import grid_in_plan, read_grid

NORTH_UP = Affine(2, 0, 100, 0, -2, 200)


def tif(path, z, *, transform=NORTH_UP, mask=None, **profile):
    z = np.asarray(z)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=z.shape[0],
        width=z.shape[1],
        count=1,
        dtype=z.dtype,
        transform=transform,
        **{k: v for k, v in profile.items() if k not in {"scale", "offset", "units"}},
    ) as out:
        out.write(z, 1)
        if mask is not None:
            out.write_mask(mask)
        if "scale" in profile:
            out.scales, out.offsets = (profile["scale"],), (profile["offset"],)
    return path


def read(path, unit="m"):
    return read_grid(path, path.name, site_crs=None, elevation_unit=unit, confirmed=False)


@pytest.mark.parametrize("dtype", ["uint8", "int16", "uint16", "int32", "float32", "float64"])
def test_types_and_nodata(tmp_path, dtype):
    raster = read(tif(tmp_path / "g.tif", np.array([[10, 20], [30, 99]], dtype=dtype), nodata=99), "ft")
    assert raster.z == pytest.approx(np.array([[10, 20], [30, np.nan]]) * 0.3048, nan_ok=True)
    assert raster.z.dtype == np.float64
    assert not raster.z.flags.writeable


def test_survey_feet_of_height(tmp_path):
    raster = read(tif(tmp_path / "g.tif", np.full((2, 2), 3937.0)), "us-ft")
    assert raster.z[0, 0] == pytest.approx(1200.0, abs=1e-9)


def test_nan_inf_and_mask(tmp_path):
    z = np.array([[np.nan, np.inf], [-np.inf, 5.0]])
    assert np.isfinite(read(tif(tmp_path / "g.tif", z)).z).tolist() == [[False, False], [False, True]]
    mask = np.array([[255, 0], [255, 255]], dtype=np.uint8)
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True):
        tif(tmp_path / "m.tif", np.full((2, 2), 7.0), mask=mask)
    assert np.isfinite(read(tmp_path / "m.tif").z).tolist() == [[True, False], [True, True]]


def test_a_mask_beside_the_grid_is_among_the_inputs(tmp_path):
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=False):
        tif(tmp_path / "m.tif", np.full((2, 2), 7.0), mask=np.array([[255, 0], [255, 255]], dtype=np.uint8))
    raster = read(tmp_path / "m.tif")
    assert [p.name for p in raster.paths] == ["m.tif", "m.tif.msk"]


def test_scale_and_offset_are_applied(tmp_path):
    raster = read(
        tif(tmp_path / "g.tif", np.array([[0, 1], [2, -1]], dtype="int16"), nodata=-1, scale=0.5, offset=100.0)
    )
    assert raster.z == pytest.approx(np.array([[100, 100.5], [101, np.nan]]), nan_ok=True)
    assert raster.assumptions == ("g.tif: the band's scale 0.5 and offset 100 were applied",)


def test_impossible_heights_are_told_and_not_known(tmp_path):
    raster = read(tif(tmp_path / "g.tif", np.array([[-9999.0, 30.0], [31.0, 3.4e38]])))
    assert np.isfinite(raster.z).tolist() == [[False, True], [True, False]]
    assert raster.assumptions == ("g.tif: 2 cells with impossible heights (-9999, 3.4e+38 m) were taken as not known",)


@pytest.mark.parametrize(
    "transform",
    [
        NORTH_UP,
        Affine(2, 0, 100, 0, 2, 100),
        Affine.translation(100, 200) @ Affine.rotation(-33) @ Affine.scale(2, -3),
        Affine(-2, 0, 100, 0, -2, 200),
    ],
)
@pytest.mark.parametrize("unit", ["m", "ft"])
def test_cells_and_places(tmp_path, transform, unit):
    rng = np.random.default_rng(1)
    z = rng.uniform(10, 20, (6, 9))
    raster = read(tif(tmp_path / "g.tif", z, transform=transform))
    frame = choose_frame(None, 0, 0, unit)
    k = frame.unit
    centre = transform @ (3.5, 2.5)  # column, row of the centre of cell (2, 3)
    grid = grid_in_plan(raster, frame, centre[0] * k, centre[1] * k)
    x, y = np.array([centre[0] * k]), np.array([centre[1] * k])
    row, col = grid.to_index(x, y)
    assert (row[0], col[0]) == pytest.approx((2, 3), abs=1e-9)
    assert heights(grid, x, y)[0] == pytest.approx(z[2, 3])
    assert np.array(grid.to_plan(row, col)).ravel() == pytest.approx([x[0], y[0]])
    assert grid.cell == pytest.approx(np.sqrt(abs(transform.determinant)) * k)


def test_a_turned_grid_of_a_projected_site(site, sites):
    x, y = sites.projection("EPSG:26918")[0](-30, 60)
    folder = site(crs="EPSG:26918", turn=20.0, bounds=(x, y - 100, x + 120, y), shape=(200, 240))
    assert [s.ground for s in read_site(folder).sources] == pytest.approx(
        [float(sites.ground(*p)) for p in ((22.3, 8.3), (9.7, 19.7), (16, 20.5))], abs=0.001
    )


def test_integer_heights_in_feet(site, sites):
    folder = site(
        crs="EPSG:2263",
        length_unit="us-ft",
        elevation_unit="us-ft",
        dtype="int32",
        heights=lambda x, y: np.round(sites.ground(x, y) * 3937 / 1200),
    )
    assert [s.ground for s in read_site(folder).sources] == pytest.approx(
        [float(sites.ground(*p)) for p in ((22.3, 8.3), (9.7, 19.7), (16, 20.5))], abs=0.16
    )


def plain(z):
    return Grid(
        z=np.asarray(z, float), to_index=lambda x, y: (-y / 2, x / 2), to_plan=lambda r, c: (c * 2, -r * 2), cell=2.0
    )


def brute_near(grid, x, y, reach):
    """The same by looking at every cell."""
    best = None
    for i, j in np.ndindex(grid.z.shape):
        if not np.isfinite(grid.z[i, j]):
            continue
        dx, dy = max(abs(x - 2 * j) - 1, 0), max(abs(y + 2 * i) - 1, 0)
        key = (round(np.hypot(dx, dy), 6), round(np.hypot(x - 2 * j, y + 2 * i), 6), i, j)
        if key[0] <= reach and (best is None or key < best[0]):
            best = (key, grid.z[i, j])
    return None if best is None else (best[1], best[0][0])


@pytest.mark.parametrize("seed", range(30))
def test_nearest_known_ground_equals_a_search_of_all_cells(seed):
    rng = np.random.default_rng(seed)
    z = rng.uniform(10, 20, (12, 15))
    z[rng.random(z.shape) < 0.93] = np.nan
    grid = plain(z)
    for x, y, reach in rng.uniform((-8, -30, 0.5), (36, 8, 9), (40, 3)):
        want, got = brute_near(grid, x, y, reach), ground_near(grid, x, y, reach)
        if want is None:
            assert got is None
        else:
            assert got == pytest.approx(want, abs=1e-6)
