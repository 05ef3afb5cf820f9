"""Northing and easting changed over, in the shots or in what is drawn: asked about by what lies on what."""

from __future__ import annotations

import json

import pytest

from siteplan.errors import InputError, InputErrors
from siteplan.survey.folder import read_site

# feet; the lot is 150 deep and 70 wide, near the origin so that both readings overlap
CORNERS = {"lot": [(0, 0), (70, 0), (70, 150), (0, 150)], "building": [(15, 70), (55, 70), (55, 115), (15, 115)]}
PLACES = [("downspout", "DS1", (15, 70)), ("downspout", "DS2", (55, 115)), ("curb_outlet", "CURB", (35, -6))]


def shape(kind, name, geometry, **more):
    return {"type": "Feature", "properties": {"kind": kind, "name": name, **more}, "geometry": geometry}


def turned(value):
    return [value[1], value[0]] if isinstance(value[0], int | float) else [turned(one) for one in value]


def site(folder, *, head="point,northing,easting,elevation,description", drawn=list, places=list, coded=True, toml=""):
    folder.mkdir()
    shots = [
        (north, east, 100 + north / 40, "GR")
        for north in range(-10, 161, 17)
        for east in range(-5, 76, 16)
        if not (70 < north < 115 and 15 < east < 55)
    ]
    shots += [(-6, east, 99.6, "GUTTER FL" if coded else "") for east in (-5, 20, 45, 75)]
    rows = "".join(f"{k},{n},{e},{z:.2f},{d}\n" for k, (n, e, z, d) in enumerate(shots, 1))
    (folder / "shots.csv").write_text(f"{head}\n{rows}", encoding="utf-8")
    features = [
        shape(kind, kind, {"type": "Polygon", "coordinates": [[list(p) for p in [*ring, ring[0]]]]})
        for kind, ring in CORNERS.items()
    ]
    features.append(shape("curb", "Curb", {"type": "LineString", "coordinates": [[-10, -6.5], [80, -6.5]]}))
    points = [
        shape(
            kind,
            name,
            {"type": "Point", "coordinates": places(list(at))},
            **({"roof_area": 500} if kind == "downspout" else {}),
        )
        for kind, name, at in PLACES
    ]
    for one in features:
        one["geometry"]["coordinates"] = drawn(one["geometry"]["coordinates"])
    text = json.dumps({"type": "FeatureCollection", "features": [*features, *points]})
    (folder / "features.geojson").write_text(text, encoding="utf-8")
    (folder / "site.toml").write_text(
        'name = "T"\ncrs = "local"\nlength_unit = "ft"\nelevation_unit = "ft"\n'
        '[ground]\nshots = "shots.csv"\naccuracy = 0.02\n' + toml + '[features]\nfiles = ["features.geojson"]\n',
        encoding="utf-8",
    )
    return folder


def refused(folder):
    with pytest.raises((InputError, InputErrors)) as caught:
        read_site(folder)
    return str(caught.value)


@pytest.mark.parametrize("coded", [True, False])
def test_heads_of_a_list_changed_over(tmp_path, coded):
    assert read_site(site(tmp_path / "right", coded=coded)).sources
    told = refused(site(tmp_path / "over", head="point,easting,northing,elevation,description", coded=coded))
    assert "shots.csv" in told
    assert "northing or easting" in told
    assert "the header says" in told
    assert "ground is not known" not in told


def test_everything_that_is_drawn_changed_over(tmp_path):
    told = refused(site(tmp_path / "site", drawn=turned, places=turned))
    assert "northing or easting" in told
    assert "change x and y over" in told
    assert "ground is not known" not in told


def test_sources_changed_over_beside_a_lot_that_is_not(tmp_path):
    told = refused(site(tmp_path / "site", places=turned))
    assert "DS2" in told
    assert "with x and y changed over it would" in told


def test_an_order_that_a_person_gave_is_taken(tmp_path):
    over = site(
        tmp_path / "site", head="point,easting,northing,elevation,description", toml='points_order = "north-first"\n'
    )
    assert read_site(over).sources


def test_a_list_of_part_of_a_lot_is_not_asked_about(tmp_path):
    """Half a lot shot: drawn corners lie beyond the shots whichever way they are read."""
    folder = site(tmp_path / "site", coded=False)
    rows = (folder / "shots.csv").read_text(encoding="utf-8").splitlines()
    near = [row for row in rows[1:] if float(row.split(",")[1]) <= 130]
    (folder / "shots.csv").write_text("\n".join([rows[0], *near]) + "\n", encoding="utf-8")
    assert read_site(folder).sources
