"""Shading, contours, markup and charts, each against something that can be reckoned another way."""

from __future__ import annotations

import math
import re
import warnings
from dataclasses import replace

import numpy as np
import pytest

from siteplan.books.rules import rule_book
from siteplan.sheets.drawing import LEGEND, STYLES, SYMBOLS, leaflet_style
from siteplan.sheets.markup import Markup, tag, text, whole
from siteplan.sheets.profile import profile_chart
from siteplan.sheets.readings import reading_texts, readings
from siteplan.sheets.relief import MOST_NODES, PictureFrame, Relief, contours, relief, shading_png
from siteplan.site import Grid


def plane(fall_east=0.02, *, cell=0.5, size=60):
    """Ground that falls evenly to the east from 100 m."""
    x = (np.arange(size) + 0.5) * cell
    z = np.tile(100.0 - fall_east * x, (size, 1))
    edge = size * cell
    return Relief(frame=PictureFrame(west=0.0, south=0.0, east=edge, north=edge), cell=cell, z=z, smooth=z)


def decoded(png):
    """Pixels by a general library's own PNG reader."""
    import rasterio

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
        with rasterio.MemoryFile(png) as memory, memory.open() as read:
            return read.read()


def test_shading_is_a_png_that_another_reader_reads():
    ground = plane()
    ground.smooth[:5, :7] = np.nan
    grey, alpha = decoded(shading_png(ground))
    assert grey.shape == (60, 60)
    assert (alpha[:5, :7] == 0).all()
    assert (alpha[5:] == 255).all()
    assert grey.min() >= 176  # lines must win over the shade


def test_slopes_toward_the_light_are_lighter():
    light = {}
    for name, rows in (("north", 1), ("south", -1)):
        ground = plane(0.0)
        fall = 0.05 * (np.arange(60) + 0.5) * 0.5
        ground.smooth[:] = 100 + rows * fall[:, None]  # 'north': low in the north, so it faces north
        light[name] = int(decoded(shading_png(ground))[0][30, 30])
    assert light["north"] > light["south"]
    ground = plane(-0.05)  # rises to the east, so it faces west
    assert decoded(shading_png(ground))[0][30, 30] > decoded(shading_png(plane(0.05)))[0][30, 30]


def test_contours_of_a_plane_lie_where_its_height_says():
    interval, lines = contours(plane(0.04), "m", 0.001)
    assert interval == 0.1
    assert len(lines) == 11 or len(lines) == 12
    for level, parts in lines:
        for part in parts:
            assert part[:, 0] == pytest.approx((100.0 - level) / 0.04, abs=1e-6)
            assert part[:, 1].min() < 1
            assert part[:, 1].max() > 29


@pytest.mark.parametrize(
    ("unit", "accuracy", "interval"),
    [("ft", 0.01, 0.5), ("ft", 0.10, 1.0), ("m", 0.01, 0.1), ("m", 0.08, 0.25), ("ft", 0.2, 2.0)],
)
def test_contours_are_no_closer_than_the_survey_can_tell(unit, accuracy, interval):
    assert contours(plane(0.03), unit, accuracy)[0] == interval


def test_ground_nobody_knows_draws_nothing():
    ground = plane()
    ground.smooth[:] = np.nan
    assert contours(ground, "ft", 0.01) == (0.0, [])
    assert (decoded(shading_png(ground))[1] == 0).all()


def test_relief_keeps_a_plane_and_stays_small(yard):
    _, site = yard
    z = 100 - 0.02 * (np.arange(400) + 0.5)[None, :] * np.ones((400, 1))
    grid = Grid(
        z=z, to_index=lambda x, y: (400 - y - 0.5, x - 0.5), to_plan=lambda r, c: (c + 0.5, 400 - r - 0.5), cell=1.0
    )
    found = relief(replace(site, grid=grid), PictureFrame(west=10.0, south=10.0, east=310.0, north=330.0))
    assert found.z.size <= 1.02 * MOST_NODES
    x = found.frame.west + (np.arange(found.z.shape[1]) + 0.5) * found.cell
    assert found.z[7] == pytest.approx(100 - 0.02 * x, abs=1e-9)
    assert found.smooth[7, 20:-20] == pytest.approx(100 - 0.02 * x[20:-20], abs=1e-9)


def test_markup_escapes_text_and_attributes_and_takes_out_controls(invented):
    made = tag("p", invented.SCRIPT, tag("b", "x"), title=f'"{invented.SCRIPT}\x00\u202e')
    assert made == (
        '<p title="&quot;&lt;/script&gt;&lt;img src=x onerror=alert(1)&gt;  ">&lt;/script&gt;&lt;img src=x '
        "onerror=alert(1)&gt;<b>x</b></p>"
    )
    assert text("a&b'c") == "a&amp;b&#x27;c"
    assert isinstance(made, Markup)
    assert whole("short by 0.39 ft (0'-4 3/4\")") == "short by 0.39\u00a0ft (0'-4\u00a03/4\")"


def test_the_key_and_the_map_speak_of_the_same_things():
    drawn = {entry.style for entry in LEGEND}
    assert drawn - {"line"} <= set(STYLES) | set(SYMBOLS)
    layouts = {
        name for name in STYLES if name.startswith("layout_")
    }  # one row of the key shows how they are told apart
    assert len(layouts & drawn) == 1
    assert (set(STYLES) | set(SYMBOLS)) - drawn - layouts == {
        "halo",
        "index",
        "low_shallow",
        "utility_case",
        "touch",
    } - drawn
    for name in STYLES:
        assert all(isinstance(value, str | int | float | bool) for value in leaflet_style(name).values())


def test_no_two_kinds_differ_by_colour_alone():
    """Without colour, every two styles still differ by width, dash, hatch, fill or the letter in them."""
    letters = {entry.style: entry.letter for entry in LEGEND}
    shown = {
        name: (style.weight, style.dash, style.hatch, bool(style.fill), letters.get(name, ""))
        for name, style in STYLES.items()
        if name not in {"halo", "touch"}
    }
    assert len(set(shown.values())) == len(shown), shown


def test_readings_hold_every_row_and_corner(yard):
    plan, site = yard
    for line in plan.lines:
        found = readings(line, site)
        for place in [row.station for row in line.rows] + [vertex.station for vertex in line.vertices]:
            assert np.abs(found.station - place).min() < 0.005
        assert np.diff(found.station).min() > 0.004
        assert np.diff(found.station).max() <= 2 * 0.3048
        assert len(reading_texts(line, found, "ft", "ft")) == len(found.station)


def test_ground_that_is_not_known_is_said_and_leaves_a_gap(yard):
    plan, site = yard
    line = plan.lines[0]
    rows = tuple(
        replace(row, ground=math.nan, cut=math.nan, cover=math.nan) if 3 < row.station < 12 else row
        for row in line.rows
    )
    z = site.grid.z.copy()
    z[84:95] = np.nan  # a strip across the front yard
    dim, blank = replace(line, rows=rows), replace(site, grid=replace(site.grid, z=z))
    found = readings(dim, blank)
    assert np.isnan(found.ground).any()
    told = [row for row in reading_texts(dim, found, "ft", "ft") if row[1] == "not known"]
    assert told
    assert {(row[4], row[5]) for row in told} == {("not known", "not known")}
    drawing = profile_chart(dim, found, {}, site.rules, "ft", "ft", width=560, height=218, place=0, outlet_end=True)
    assert drawing.count('class="ground"') == 2
    assert "nan" not in drawing


def test_a_rows_own_ground_stands_where_the_grid_knows_none(yard):
    """A source beside the house takes the nearest known height: the plan's figure, not the grid's."""
    plan, site = yard
    line = plan.lines[0]
    blank = replace(site, grid=replace(site.grid, z=np.full_like(site.grid.z, np.nan)))
    found = readings(line, blank)
    assert found.ground[-1] == line.rows[-1].ground
    assert np.isfinite(found.ground).sum() == len(line.rows)


def test_a_chart_places_the_ends_of_pipe_by_its_own_scale(yard):
    plan, site = yard
    line = plan.lines[0]
    drawn = profile_chart(
        line, readings(line, site), {}, site.rules, "ft", "ft", width=560, height=218, place=0, outlet_end=True
    )
    data = {key: float(value) for key, value in re.findall(r'data-(\w+)="([-\d.]+)"', drawn)}
    points = re.search(r'class="invert" points="([^"]+)"', drawn)[1].split()
    for point, vertex in ((points[0], line.vertices[0]), (points[-1], line.vertices[-1])):
        x, y = map(float, point.split(","))
        assert x == pytest.approx(
            data["left"] + (data["right"] - data["left"]) * vertex.station / data["length"], abs=0.06
        )
        share = (vertex.invert - data["low"]) / (data["high"] - data["low"])
        assert y == pytest.approx(data["bottom"] - (data["bottom"] - data["top"]) * share, abs=0.06)


def test_least_cover_is_drawn_only_where_it_applies(yard):
    plan, site = yard
    line = plan.lines[0]
    found = readings(line, site)

    def first(outlet_end):
        drawn = profile_chart(
            line, found, {}, site.rules, "ft", "ft", width=560, height=218, place=0, outlet_end=outlet_end
        )
        assert ">least cover</text>" in drawn  # a dashed line without a name reads as ground
        return float(re.search(r'class="least" points="([\d.]+),', drawn)[1])

    left = 54 + (560 - 14 - 54) * 15 * 0.3048 / line.length
    assert first(outlet_end=True) == pytest.approx(left, abs=8)  # the first reading past 15 ft
    assert first(outlet_end=False) == pytest.approx(54, abs=0.1)
    unknown = rule_book({})
    unknown = {**unknown, "min-cover": unknown["min-cover"]._replace(limit=None)}
    assert "least" not in profile_chart(
        line, found, {}, unknown, "ft", "ft", width=560, height=218, place=0, outlet_end=True
    )


def test_names_of_bands_that_lie_close_stand_in_rows_of_their_own(yard):
    """A walk over wet ground: two names in one place of the chart were printed over one another."""
    import re
    from dataclasses import replace

    plan, site = yard
    line = next(one for one in plan.lines if one.low_spots)
    passage = line.low_spots[0]
    crossing = next(crossing for one in plan.lines for crossing in one.crossings)
    line = replace(
        line,
        crossings=(
            replace(
                crossing,
                kind="walk",
                name="Front walk",
                station_from=passage.station_from,
                station_to=passage.station_to,
            ),
        ),
    )
    spots = {spot.id: spot for spot in plan.low_spots}
    for width in (560, 350):
        drawn = profile_chart(
            line,
            readings(line, site),
            spots,
            site.rules,
            plan.length_unit,
            plan.elevation_unit,
            width=width,
            height=232,
            place=0,
            outlet_end=True,
        )
        names = re.findall(r'<text class="over-name" x="([\d.]+)" y="([\d.]+)"[^>]*>([^<]+)<', drawn)
        assert sorted(name for *_, name in names) == ["Front walk", f"wet {passage.id}"]
        assert len({high for _, high, _ in names}) == 2
