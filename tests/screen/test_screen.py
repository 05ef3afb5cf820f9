"""Which lots could drain: states, tiles, doubt, what is read and what is not."""

from __future__ import annotations

import json
import shutil
from collections import Counter
from pathlib import Path

import geopandas
import numpy as np
import pyogrio
import pytest
import rasterio
from lots_listed import first_length, listed, tally
from rasterio.transform import Affine
from shapely.geometry import MultiPolygon, box

from siteplan.screen.summary import SCREEN_LOOKS

WORKS = {"street", "rear", "both"}
FIGURES = ("state", "margin", "street_margin", "rear_margin", "chance", "why")


def figures(rows):
    return {name: tuple(row[key] for key in FIGURES) for name, row in rows.items()}


def test_every_lot_has_a_state_and_the_worst_come_first(screened):
    rows = list(screened.rows.values())
    assert len(rows) == 12
    assert screened.code == (1 if any(row["state"] == "short" for row in rows) else 0)
    ranks = [["short", "cannot-tell", "rear", "street", "both"].index(row["state"]) for row in rows]
    assert ranks == sorted(ranks)
    assert len({row["state"] for row in rows}) >= 2
    for row in rows:
        margins = [float(row[key]) for key in ("street_margin", "rear_margin") if row[key]]
        if row["why"] == "":
            assert float(row["margin"]) >= max(margins) - 1e-9
        if row["state"] in WORKS:
            assert float(row["margin"]) > 0
        if row["state"] == "short":
            assert float(row["margin"]) < 0
        assert bool(row["shots"]) == (row["state"] == "cannot-tell")


def test_doubt_alone_decides_between_yes_no_and_cannot_tell(screened, tmp_path):
    _, sure = screened.screen(screened.paths, tmp_path / "sure", "--name", "parcel", "--accuracy", "0.005")
    assert {name: row["margin"] for name, row in sure.items()} == {
        name: row["margin"] for name, row in screened.rows.items()
    }
    for row in sure.values():
        if abs(float(row["margin"])) > 0.01:  # m: over 1.65 times the doubt of two heights
            assert row["state"] in (WORKS if float(row["margin"]) > 0 else {"short"})
    # 1.645 standard deviations of the difference of two heights, each 0.30 ft = 0.09144 m: 95 % of a normal error on
    # one side
    edge = 1.6449 * 2**0.5 * 0.09144
    for row in screened.rows.values():
        margin = float(row["margin"])
        if abs(abs(margin) - edge) > 0.006:
            assert (row["state"] == "cannot-tell") == (abs(margin) < edge)


@pytest.mark.parametrize("form", ["one file", "folder"])
def test_lots_on_the_seams_of_tiles_are_as_on_one_raster(screened, tmp_path, form):
    other = screened.county.county(tmp_path / "in", 12, tile=37 if form == "folder" else 4000)
    other["elevation"] = (
        tmp_path / "in" / "tiles" if form == "folder" else next((tmp_path / "in" / "tiles").glob("*.tif"))
    )
    _, rows = screened.screen(other, tmp_path / "out", "--name", "parcel")
    assert figures(rows) == figures(screened.rows)


def test_the_order_of_the_parcels_changes_no_answer(screened, tmp_path):
    other = screened.county.county(tmp_path / "in", 12, tile=37, scattered=True)
    _, rows = screened.screen(other, tmp_path / "out", "--name", "parcel")
    assert figures(rows) == figures(screened.rows)


def test_windows_are_read_and_no_tile_whole_that_no_lot_touches(screened, tmp_path, monkeypatch):
    import siteplan.screen.tiles

    folder = screened.paths["elevation"].parent / "tiles"
    shutil.copytree(folder, tmp_path / "tiles")
    with rasterio.open(
        tmp_path / "tiles" / "z-far.tif",
        "w",
        driver="GTiff",
        height=30_000,
        width=30_000,
        count=1,
        dtype="float32",
        crs=screened.county.CRS,
        transform=Affine(1, 0, 700_000 - 20, 0, -1, 4_700_000 - 40),
        sparse_ok=True,
        tiled=True,
    ) as far:
        far.units = ("m",)
    whole, seen = siteplan.screen.tiles._read, []

    def watched(path, r0, r1, c0, c1):
        seen.append((Path(path).name, (r1 - r0) * (c1 - c0)))
        return whole(path, r0, r1, c0, c1)

    monkeypatch.setattr(siteplan.screen.tiles, "_read", watched)
    paths = screened.paths | {"elevation": tmp_path / "tiles"}
    _, rows = screened.screen(paths, tmp_path / "out", "--name", "parcel")
    assert figures(rows) == figures(screened.rows)
    assert "z-far.tif" not in {name for name, _ in seen}
    # a lot of 24 by 38 m with its street and 6 m round it, in cells of 1 m
    assert sum(cells for _, cells in seen) <= 12 * (24 + 16) * (38 + 18 + 16)


def test_without_streets_only_the_rear_is_looked_at(screened, tmp_path):
    paths = {name: path for name, path in screened.paths.items() if name != "streets"}
    _, rows = screened.screen(paths, tmp_path / "out", "--name", "parcel")
    assert {row["street_margin"] for row in rows.values()} == {""}
    assert {row["state"] for row in rows.values()} <= {"rear", "short", "cannot-tell"}
    assert "No streets were given" in (tmp_path / "out" / "index.html").read_text("utf-8")


def test_without_buildings_a_house_is_assumed_and_told(screened, tmp_path, capsys):
    paths = {name: path for name, path in screened.paths.items() if name != "buildings"}
    _, rows = screened.screen(paths, tmp_path / "out", "--name", "parcel")
    assert {row["house"] for row in rows.values()} == {"assumed"}
    assert {row["house"] for row in screened.rows.values()} == {"drawn"}
    assert "a house is assumed" in capsys.readouterr().out


def test_a_lot_off_the_elevation_cannot_be_told(screened, tmp_path):
    lots = geopandas.read_file(screened.paths["parcels"])
    lots.loc[3, "geometry"] = lots.geometry[3].buffer(0)
    lots["geometry"] = [one if k != 3 else _moved(one, 90_000.0) for k, one in enumerate(lots.geometry)]
    lots.to_file(tmp_path / "moved.gpkg")
    _, rows = screened.screen(
        screened.paths | {"parcels": tmp_path / "moved.gpkg"}, tmp_path / "out", "--name", "parcel"
    )
    row = rows[lots["parcel"][3]]
    assert (row["state"], row["why"]) == ("cannot-tell", "the elevation knows no ground there")
    assert sum(row["why"] != "" for row in rows.values()) <= 1 + sum(row["why"] != "" for row in screened.rows.values())


def test_a_parcel_without_an_outline_is_told_and_of_parts_the_largest_counts(screened, tmp_path):
    lots = geopandas.read_file(screened.paths["parcels"]).iloc[:3]
    whole = lots.geometry[1]
    lots["geometry"] = [None, MultiPolygon([box(0, 0, 1, 1), whole]), lots.geometry[2]]
    lots.to_file(tmp_path / "odd.gpkg")
    paths = screened.paths | {"parcels": tmp_path / "odd.gpkg"}
    _, rows = screened.screen(paths, tmp_path / "out", "--name", "parcel")
    names = list(lots["parcel"])
    assert (rows[names[0]]["state"], rows[names[0]]["why"]) == ("cannot-tell", "its outline cannot be used")
    assert {name: float(rows[name]["margin"]) for name in names[1:]} == {
        name: pytest.approx(float(screened.rows[name]["margin"]), abs=0.011) for name in names[1:]
    }


def _moved(shape, by):
    from shapely.affinity import translate

    return translate(shape, by, 0.0)


def test_layers_in_other_systems_are_the_same_county(screened, tmp_path):
    paths = dict(screened.paths)
    for name in ("buildings", "streets"):
        paths[name] = tmp_path / f"{name}.geojson"
        geopandas.read_file(screened.paths[name]).to_crs("EPSG:4326").to_file(
            paths[name], driver="GeoJSON", COORDINATE_PRECISION=9
        )
    _, rows = screened.screen(paths, tmp_path / "out", "--name", "parcel")
    for name, row in rows.items():
        assert row["state"] == screened.rows[name]["state"]
        assert float(row["margin"]) == pytest.approx(float(screened.rows[name]["margin"]), abs=0.02)


def test_the_layer_and_the_page_hold_every_lot(screened):
    frame = pyogrio.read_dataframe(screened.out / "screen.gpkg")
    given = geopandas.read_file(screened.paths["parcels"]).set_index("parcel").geometry
    assert set(frame["lot"]) == set(screened.rows)
    assert all(
        frame.geometry[k].equals_exact(given[name], 1e-6) or frame.geometry[k].equals(given[name])
        for k, name in enumerate(frame["lot"])
    )
    assert dict(zip(frame["lot"], frame["state"], strict=True)) == {
        name: row["state"] for name, row in screened.rows.items()
    }
    page = (screened.out / "index.html").read_text("utf-8")
    assert page.count("<polygon") == 12
    assert "--accuracy" in page
    assert "http:" not in page


def test_table_layer_and_page_say_the_same(screened):
    rows = list(screened.rows.values())
    held = {row.lot: row for row in pyogrio.read_dataframe(screened.out / "screen.gpkg").itertuples()}
    shown = listed(screened.out / "index.html")
    assert [row["lot"] for row in rows] == [cells[0] for cells in shown]
    assert held.keys() == {row["lot"] for row in rows}
    for row, (_, state, spare, _, _, why, shots) in zip(rows, shown, strict=True):
        layer = held[row["lot"]]
        assert layer.state == row["state"]
        assert state.partition(" ")[2] == SCREEN_LOOKS[row["state"]].word
        assert layer.margin_m == pytest.approx(float(row["margin"]), abs=0.0051)
        assert first_length(spare) == pytest.approx(abs(float(row["margin"])), abs=0.0101)
        assert (why, shots) == (row["why"], row["shots"]) == (layer.why or "", layer.shots or "")
    told = Counter(SCREEN_LOOKS[row["state"]].word for row in rows)
    assert tally(screened.out / "index.html") == told
    counts = json.loads((screened.out / "screen.json").read_bytes())["lots"]
    assert {SCREEN_LOOKS[state].word: count for state, count in counts.items() if count} == told


def test_the_same_county_gives_the_same_bytes(screened, tmp_path):
    screened.screen(screened.paths, tmp_path / "out", "--name", "parcel")
    for path in sorted(screened.out.iterdir()):
        assert (tmp_path / "out" / path.name).read_bytes() == path.read_bytes(), path.name


def test_names_that_would_act_are_text(screened, tmp_path):
    shutil.copy(screened.paths["parcels"], tmp_path / "parcels.gpkg")
    lots = geopandas.read_file(tmp_path / "parcels.gpkg")
    lots = lots.iloc[:1].assign(name="=1+1<script>alert(1)</script>")
    lots.to_file(tmp_path / "named.gpkg")
    _, rows = screened.screen(screened.paths | {"parcels": tmp_path / "named.gpkg"}, tmp_path / "out")
    assert list(rows) == ["'=1+1<script>alert(1)</script>"]
    assert "<script>alert" not in (tmp_path / "out" / "index.html").read_text("utf-8")


def _outside(paths, folder):
    shutil.copy(next((paths["elevation"].parent / "tiles").glob("*.tif")), folder / "elsewhere.tif")
    (folder / "sub").mkdir()
    text = (
        "<VRTDataset><VRTRasterBand><SimpleSource><SourceFilename "
        'relativeToVRT="1">../elsewhere.tif</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>'
    )
    (folder / "sub" / "ground.vrt").write_text(text, encoding="utf-8")
    return paths | {"elevation": folder / "sub" / "ground.vrt"}


def _far_address(paths, folder):
    text = "<VRTDataset><VRTRasterBand><SimpleSource><SourceFilename>/vsicurl/x/y.tif</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>"
    (folder / "ground.vrt").write_text(text, encoding="utf-8")
    return paths | {"elevation": folder / "ground.vrt"}


def _entities(paths, folder):
    (folder / "ground.vrt").write_text('<!DOCTYPE a [<!ENTITY b "c">]><VRTDataset>&b;</VRTDataset>', encoding="utf-8")
    return paths | {"elevation": folder / "ground.vrt"}


def _no_system(paths, folder):
    lots = geopandas.read_file(paths["parcels"])
    lots.to_file(folder / "lots.shp", engine="pyogrio")
    Path(folder / "lots.prj").unlink(missing_ok=True)
    return paths | {"parcels": folder / "lots.shp"}


def _off_the_grid(paths, folder):
    shutil.copytree(paths["elevation"].parent / "tiles", folder / "tiles")
    last = max((folder / "tiles").glob("*.tif"))
    with rasterio.open(last, "r+") as tile:
        tile.transform = tile.transform @ Affine.translation(0.4, 0)
    return paths | {"elevation": folder / "tiles"}


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (_outside, "does not lie beside or below it"),
        (_far_address, "does not lie beside or below it"),
        (_entities, "declares entities"),
        (_no_system, "names no coordinate system"),
        (_off_the_grid, "do not lie on those of"),
        (lambda paths, folder: paths | {"streets": folder / "nowhere.gpkg"}, "--streets"),
        (lambda paths, folder: paths | {"elevation": folder}, "holds no GeoTIFF"),
    ],
    ids=["outside", "address", "entities", "no system", "off the grid", "no file", "no tile"],
)
def test_what_cannot_be_used_is_told_and_writes_nothing(screened, tmp_path, capsys, spoil, told):
    (tmp_path / "in").mkdir()
    code, _ = screened.screen(spoil(dict(screened.paths), tmp_path / "in"), tmp_path / "out")
    assert code == 2
    assert told in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_an_unknown_column_offers_those_there(screened, tmp_path, capsys):
    code, _ = screened.screen(screened.paths, tmp_path / "out", "--name", "apn")
    assert code == 2
    assert "parcel" in capsys.readouterr().err


def test_a_fault_of_ours_in_one_lot_leaves_the_others(screened, tmp_path, monkeypatch):
    import siteplan.screen.stretch

    whole, called = siteplan.screen.stretch.judged_site, []

    def bursts(*given):
        called.append(1)
        if len(called) == 5:
            raise ZeroDivisionError
        return whole(*given)

    monkeypatch.setattr(siteplan.screen.stretch, "judged_site", bursts)
    code, rows = screened.screen(screened.paths, tmp_path / "out", "--name", "parcel")
    assert code == 3
    assert [row["why"] for row in rows.values()].count("a fault of ours") == 1
    assert sum(figures({name: row}) == figures({name: screened.rows[name]}) for name, row in rows.items()) == 11


def test_the_record_says_what_was_asked(screened):
    record = json.loads((screened.out / "screen.json").read_bytes())
    assert record["asked"]["accuracy"] == pytest.approx(0.30 * 0.3048)
    assert sum(record["lots"].values()) == 12
    assert np.isfinite(record["asked"]["half_street"])


def _tile(screened, folder, *, unit="", crs=None, lift=1.0):
    """The county's ground in one tile that says its unit of height so, by its band or its system."""
    folder.mkdir(exist_ok=True)
    paths = screened.county.county(folder / "county", 12, tile=4000)
    tile = next((folder / "county" / "tiles").glob("*.tif"))
    with rasterio.open(tile) as source:
        z, told = source.read(1), source.profile
    tile.unlink()
    with rasterio.open(tile, "w", **(told | {"crs": crs or told["crs"]})) as out:
        out.write(z / np.float32(lift), 1)
        if unit:
            out.units = (unit,)
    return paths


@pytest.mark.parametrize("form", ["vrt", "folder", "one file"])
def test_a_unit_of_height_that_nobody_says_is_asked_for(screened, tmp_path, capsys, form):
    paths = _tile(screened, tmp_path / "in")
    tiles = tmp_path / "in" / "county" / "tiles"
    paths["elevation"] = {"vrt": paths["elevation"], "folder": tiles, "one file": next(tiles.glob("*.tif"))}[form]
    code, _ = screened.screen(paths, tmp_path / "out", "--name", "parcel")
    told = capsys.readouterr().err
    assert code == 2
    assert "--elevation-unit" in told
    assert next(tiles.glob("*.tif")).name in told
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("unit", "crs", "lift", "options"),
    [
        ("", None, 0.3048, ("--elevation-unit", "ft")),
        ("US survey foot", None, 1200 / 3937, ()),
        ("", "EPSG:26915+6360", 1200 / 3937, ()),  # NAVD88 height (ftUS)
        ("", "EPSG:26915+5703", 1.0, ()),  # NAVD88 height
    ],
    ids=["option", "band", "vertical system in feet", "vertical system in metres"],
)
def test_heights_are_in_the_unit_that_is_said(screened, tmp_path, unit, crs, lift, options):
    paths = _tile(screened, tmp_path / "in", unit=unit, crs=crs, lift=lift)
    _, rows = screened.screen(paths, tmp_path / "out", "--name", "parcel", *options)
    assert {name: row["state"] for name, row in rows.items()} == {
        name: row["state"] for name, row in screened.rows.items()
    }
    for name, row in rows.items():
        assert float(row["margin"]) == pytest.approx(float(screened.rows[name]["margin"]), abs=0.011)


def test_a_unit_that_the_file_denies_is_refused(screened, tmp_path, capsys):
    paths = _tile(screened, tmp_path / "in", crs="EPSG:26915+6360", lift=1200 / 3937)
    code, _ = screened.screen(paths, tmp_path / "out", "--elevation-unit", "m")
    assert code == 2
    assert "NAVD88 height (ftUS)" in capsys.readouterr().err


def test_every_tile_says_the_unit_and_not_the_first_alone(screened, tmp_path, capsys):
    shutil.copytree(screened.paths["elevation"].parent / "tiles", tmp_path / "tiles")
    last = max((tmp_path / "tiles").glob("*.tif"))
    for unit, told in (("ft", f"{last.name}: says"), ("", f"{last.name}: does not say")):
        with rasterio.open(last, "r+") as tile:
            tile.units = (unit,)
        code, _ = screened.screen(screened.paths | {"elevation": tmp_path / "tiles"}, tmp_path / "out")
        assert code == 2
        assert told.partition(": ")[0] in capsys.readouterr().err


def test_the_unit_that_a_virtual_raster_says_holds(screened, tmp_path):
    paths = _tile(screened, tmp_path / "in", lift=0.3048)
    text = paths["elevation"].read_text("utf-8")
    paths["elevation"].write_text(text.replace('band="1">', 'band="1"><UnitType>ft</UnitType>'), encoding="utf-8")
    _, rows = screened.screen(paths, tmp_path / "out", "--name", "parcel")
    for name, row in rows.items():
        assert float(row["margin"]) == pytest.approx(float(screened.rows[name]["margin"]), abs=0.011)


def test_what_is_no_lot_is_left_out_and_counted(screened, tmp_path, capsys):
    lots = geopandas.read_file(screened.paths["parcels"])
    middle = lots.geometry[0].centroid
    odd = lots.iloc[:4].assign(
        parcel=["a leader", "a curb", "a house", "a loop"],
        geometry=[middle, lots.geometry[0].exterior, middle.buffer(4.0), middle.buffer(5.0).exterior],
    )
    every = geopandas.pd.concat([odd, lots], ignore_index=True)
    every["kind"] = ["downspout", "curb", "building", None, "lot", "residential", *[None] * 10]
    every.to_file(tmp_path / "features.gpkg")
    capsys.readouterr()
    _, rows = screened.screen(
        screened.paths | {"parcels": tmp_path / "features.gpkg"}, tmp_path / "out", "--name", "parcel"
    )
    told = capsys.readouterr().out
    assert figures(rows) == figures(screened.rows)
    assert "4 features of the parcels are no lots" in " ".join(told.split())
    assert json.loads((tmp_path / "out" / "screen.json").read_bytes())["left_out"] == 4
    assert "4 features of the parcels are no lots" in (tmp_path / "out" / "index.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("layer", "shapes", "told"),
    [
        ("parcels", "centroid", "polygon"),
        ("parcels", "boundary", "polygon"),
        ("buildings", "centroid", "polygon"),
        ("streets", "centroid", "line"),
    ],
)
def test_a_layer_of_the_wrong_shapes_is_refused(screened, tmp_path, capsys, layer, shapes, told):
    frame = geopandas.read_file(screened.paths[layer])
    frame["geometry"] = getattr(frame.geometry, shapes)
    frame.to_file(tmp_path / "odd.gpkg")
    code, _ = screened.screen(screened.paths | {layer: tmp_path / "odd.gpkg"}, tmp_path / "out")
    said = capsys.readouterr().err
    assert code == 2
    assert f"--{layer}" in said
    assert told in said
    assert not (tmp_path / "out").exists()


def test_every_file_written_is_named(screened, tmp_path, capsys):
    screened.screen(screened.paths, tmp_path / "out", "--name", "parcel")
    last = " ".join(capsys.readouterr().out.split()).partition("Written to")[2]
    assert [one.name for one in (tmp_path / "out").iterdir() if one.name not in last] == []
