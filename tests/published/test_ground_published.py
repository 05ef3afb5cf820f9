"""Filling and labelling of real grids against answers that stand outside the project.

lidar 0.8.4 (Python package, MIT), lidar/data/dem.tif and sink.tif: the package's own mask of the depression, ground
elevation inside and 0 outside, worked out by its authors from the same grid. Read.

matplotlib, sample_data/jacksboro_fault_dem.npz: the grid only. Its figures (greatest fill 32.0 m, 6 373 filled cells)
come from an independent fill; scikit-image referees them here. Derived.

scikit-image, morphology.reconstruction by erosion from the grid's edge: the fill itself, cell for cell. Read.
"""

from __future__ import annotations

import importlib.metadata

import numpy as np
import pytest

from siteplan.ground.fill import fill
from siteplan.ground.hollows import hollow_table, label_groups

ENGINES = ("plain", "compiled")


def _lidar_grid(name):
    rasterio = pytest.importorskip("rasterio")
    try:
        files = importlib.metadata.files("lidar") or []
    except importlib.metadata.PackageNotFoundError:
        pytest.skip("the package lidar is not installed (extra: dev)")
    (path,) = (file.locate() for file in files if str(file).endswith(f"lidar/data/{name}"))
    with rasterio.open(path) as source:
        return source.read(1)


def _jacksboro():
    cbook = pytest.importorskip("matplotlib.cbook")
    with np.load(cbook.get_sample_data("jacksboro_fault_dem.npz", asfileobj=False)) as data:
        # ymin > ymax in the file: the names are the wrong way round; filling needs neither
        return data["elevation"], float(data["ymin"]), float(data["ymax"])


def _by_library(z):
    reconstruction = pytest.importorskip("skimage.morphology").reconstruction
    start = z.astype(float)
    start[1:-1, 1:-1] = z.max()
    return reconstruction(start, z.astype(float), method="erosion", footprint=np.ones((3, 3)))


@pytest.mark.parametrize("engine", ENGINES)
def test_lidar_package_sink_is_our_largest_hollow_cell_for_cell(engine):
    ground, sink = _lidar_grid("dem.tif"), _lidar_grid("sink.tif")
    z = ground.astype(float)
    filled = fill(z, engine=engine)
    labels, count = label_groups(filled > z)
    table = hollow_table(z, filled, np.ones(z.shape), labels, count)
    largest = int(np.argmax(table[:, 1]))
    assert table[largest, 1] == 71_886
    assert table[largest, 0] == pytest.approx(15.46, abs=0.005)  # as printed, two digits
    inside = labels == largest + 1
    assert np.array_equal(inside, sink > 0)
    assert np.array_equal(sink[inside], ground[inside])
    # the published mask's highest cell lies just below the level at which the hollow spills
    assert sink.max() <= table[largest, 3]
    assert table[largest, 3] - float(sink.max()) < 0.01


@pytest.mark.parametrize("engine", ENGINES)
def test_jacksboro_whole_metres(engine):
    z, ymin, ymax = _jacksboro()
    assert (z.shape, z.dtype, ymin > ymax) == ((344, 403), np.int16, True)
    filled = fill(z, engine=engine)
    assert (filled - z).max() == 32.0
    assert int((filled > z).sum()) == 6_373
    assert np.array_equal(filled, np.round(filled))
    assert np.array_equal(filled, _by_library(z))


@pytest.mark.parametrize("engine", ENGINES)
def test_lidar_package_ground_equals_the_general_library(engine):
    z = _lidar_grid("dem.tif").astype(float)
    assert np.array_equal(fill(z, engine=engine), _by_library(z))
