"""Rain and sizing as site.toml gives them: read, held against the water room's own reading, and refused in one line."""

from __future__ import annotations

import pytest

from siteplan.errors import InputError
from siteplan.survey.rainfall import intensity_at, read_rain_table, read_sizing
from siteplan.units import RAIN
from siteplan.water.rain import Rainfall, read_rain

TABLE = [[5, 7.2], [10, 5.9], [15, 5.0], [30, 3.6], [60, 2.4]]


def read(rain, unit="ft"):
    faults: list[InputError] = []
    notes: list[str] = []
    rate, told = read_rain_table(rain, unit, faults, notes)
    return rate, told, [str(fault) for fault in faults], notes


@pytest.mark.parametrize("minutes", [5, 6.5, 10, 22, 45, 60])
def test_a_table_is_read_as_the_water_room_reads_it(minutes):
    rate, told, faults, _ = read({"table": TABLE, "duration": minutes, "source": "a table"})
    assert not faults
    durations, rates = zip(*told.table, strict=True)
    own = read_rain(Rainfall(durations=durations, intensities=rates, source="a table"), minutes * 60.0)
    assert rate == pytest.approx(own.intensity, rel=1e-12)


@pytest.mark.parametrize("minutes", [0.1, 4.99, 60.01, 1440])
def test_a_table_is_never_read_beyond_its_ends(minutes):
    table = tuple((60.0 * duration, rate) for duration, rate in TABLE)
    with pytest.raises(ValueError, match=r"the table goes from 300 to 3600 s, .* is not in it"):
        intensity_at(table, 60.0 * minutes)


def test_without_a_duration_a_roof_answers_in_five_minutes_or_in_the_shortest_row():
    assert read({"table": TABLE})[0] == pytest.approx(7.2 * RAIN["in/h"])
    assert read({"table": [[15, 90], [60, 40]]}, "m")[0] == pytest.approx(90 * RAIN["mm/h"])
    assert read({"table": [[3, 9.0]]})[0] == pytest.approx(9.0 * RAIN["in/h"])


def test_what_was_wanted_and_not_held_stays_told():
    _, told, faults, _ = read({"table": [[15, 5.0], [60, 2.4]]})
    assert not faults
    assert (told.duration, told.wanted) == (900.0, 300.0)
    _, told, _, _ = read({"table": TABLE, "duration": 20})
    assert (told.duration, told.wanted) == (1200.0, 1200.0)


def test_depths_are_read_as_depths_when_said():
    # 0.60 in in 5 min is 7.2 in/h, 1.25 in in 15 min 5.0 in/h, 2.40 in in an hour 2.4 in/h
    rate, told, faults, _ = read({"table": [[5, 0.60], [15, 1.25], [60, 2.40]], "table_gives": "depths"})
    assert not faults
    assert rate == pytest.approx(7.2 * RAIN["in/h"])
    assert [i / RAIN["in/h"] for _, i in told.table] == pytest.approx([7.2, 5.0, 2.4])
    rate, _, faults, _ = read({"table": [[5, 10.0], [60, 30.0]], "table_gives": "depths"}, "m")
    assert not faults
    assert rate == pytest.approx(120 * RAIN["mm/h"])


def test_one_intensity_keeps_its_stated_duration_and_source():
    rate, told, faults, _ = read({"intensity": 6.0, "duration": 60, "years": 100, "source": "a code"})
    assert not faults
    assert rate == pytest.approx(6.0 * RAIN["in/h"])
    assert (told.table, told.duration, told.years, told.source) == ((), 3600.0, 100.0, "a code")


def test_straight_on_logarithmic_paper():
    assert intensity_at(((100.0, 4.0), (400.0, 1.0)), 200.0) == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("rain", "says"),
    [
        ({"table": [[5, 3.0], [10, 3.1]]}, "pair 2 rains harder than the shorter pair before it"),
        ({"table": [[5, 3.0], [10, 1.4]]}, "pair 2 brings less water than the shorter pair before it"),
        (
            {"table": [[5, 0.60], [15, 1.25], [60, 2.40]]},
            "0.6 in in 5 minutes, is 7.2 in/h. If they are depths in in add table_gives",
        ),
        ({"table": TABLE, "table_gives": "depth"}, '[rainfall] table_gives: is "depth"'),
        ({"table": TABLE, "duration": 90}, "is 90 minutes and the table ends at 60"),
        ({"table": TABLE, "duration": 3}, "is 3 minutes and the table begins at 5"),
        ({"table": TABLE, "duration": 0}, "[rainfall] duration: is 0"),
        ({"table": TABLE, "years": "often"}, '[rainfall] years: is "often"'),
        ({"table": TABLE, "source": 3}, "[rainfall] source: is 3"),
        ({"intensity": 5, "series": [[10, 1.0], [5, 2.0]]}, "pair 2 has 5 minutes after 10"),
        ({"intensity": 5, "series": [[10, -1.0]]}, "pair 1 is [10, -1.0]"),
    ],
)
def test_what_cannot_be_is_one_line(rain, says):
    faults = read(rain)[2]
    assert len(faults) == 1
    assert says in faults[0]
    assert "\n" not in faults[0]


def test_a_series_may_pause():
    told, faults = read({"intensity": 5, "series": [[10, 1.0], [20, 0], [30, 2.0]]})[1:3]
    assert not faults
    assert told.series == (
        (600.0, pytest.approx(RAIN["in/h"])),
        (1200.0, 0.0),
        (1800.0, pytest.approx(2 * RAIN["in/h"])),
    )


def test_no_rain_is_a_note_and_no_fault():
    rate, _, faults, notes = read(None)
    assert rate is None
    assert not faults
    assert notes == ["no rainfall is given: what the downspouts carry is not known"]


def test_sizing_is_read_and_refused():
    faults: list[InputError] = []
    told = read_sizing(
        {
            "basis": "ipc-2012",
            "design_fill": 0.75,
            "fill_of": "flow",
            "roughness": "aged",
            "pipe": "pvc_metric",
            "smallest": "DN 160",
        },
        faults,
    )
    assert not faults
    assert (told.basis, told.fill, told.fill_of, told.age, told.pipe, told.smallest, told.largest) == (
        "ipc-2012",
        0.75,
        "flow",
        "aged",
        "pvc_metric",
        "DN 160",
        None,
    )
    read_sizing({"basis": "ipc2012", "design_fill": 1.2, "pipe": "pvc_sdr35", "smallest": "DN 160"}, faults)
    texts = [str(fault) for fault in faults]
    assert texts == [
        (
            'site.toml, [water] basis: is "ipc2012". Did you mean ipc-2012? Known are manning, '
            "prandtl-colebrook, ipc-2018, ipc-2012, upc."
        ),
        'site.toml, [water] smallest: is "DN 160". Give one of 4 in, 6 in, 8 in, 10 in, 12 in.',
        "site.toml, [water] design_fill: is 1.2. Give a share above 0 and at most 1, such as 0.80.",
    ]
    faults.clear()
    read_sizing({"smallest": "8 in", "largest": "4 in"}, faults)
    assert "the other way round" in str(faults[0])
