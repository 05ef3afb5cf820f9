"""The keys of site.toml but those of [rules], each declared once.

What it is called, what is written there, its unit, limits, usual value, source.

Readers take from here what a section may hold; the drawing table makes its forms of it. What a form cannot hold is `by
hand`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple

from siteplan.books import pipes
from siteplan.books.hydraulics import COLEBROOK, LEAST_KB, MOST_KB, USUAL_KB, code_tables
from siteplan.books.practice import ROOF_ANSWERS, SHOT_BESIDE_GRID, SOIL_SHOT, TRADE
from siteplan.books.prices import COUPLING, DEFAULT_PRICES, PIPE_PRICES, UNLISTED_PIPE
from siteplan.books.stock import stocks
from siteplan.site import Laying, Sizing
from siteplan.survey.laying import (
    LENGTH_UNITS,
    MOST_LENGTH,
    MOST_PRICE,
    SEARCH_LIMITS,
    SURENESS,
    TRENCH_LENGTHS,
    TRENCH_WORDS,
)
from siteplan.units import LENGTH, SITE_UNITS, from_metres
from siteplan.values.tried import SearchEffort

Written = Literal["number", "text", "choice", "yes", "texts", "numbers", "rows", "by hand"]
_EFFORT, _SIZING, _LAYING = SearchEffort(), Sizing(), Laying()


class SiteKey(NamedTuple):
    """One key.

    Attributes
    ----------
    section : str
        Where it stands, '' for the head of the file; 'costs.pipe' for a table in a table.
    key : str
        What it is called there.
    title : str
        What it is called; of a key by hand, what is written there.
    written : str
        number; text; choice; yes (true or left out); texts or numbers (a list of them); rows (of numbers); by hand (no
        form holds it).
    unit : str
        As printed, or 'length', 'height', 'area', 'rain': the site's own.
    usual : object
        What holds where nothing is said, in that unit; a length in metres where `unit` is 'height'; None: nothing does.
    limits : str
        What a value may be.
    choices : tuple of str
        Of a choice.
    source : str
        Where the usual value and the limits come from, and remarks.
    form : str
        The section under whose title it is shown, where that is not its own.
    family : str
        What keys that say one thing in several units have in common; '' for a key of its own.
    offers : str
        'kinds' or 'sizes' of pipe: what a choice is made of where the site's own pipes are among it.
    """

    section: str
    key: str
    title: str
    written: Written = "number"
    unit: str = ""
    usual: Any = None
    limits: str = ""
    choices: tuple[str, ...] = ()
    source: str = ""
    form: str = ""
    family: str = ""
    offers: Literal["", "kinds", "sizes"] = ""

    @property
    def name(self) -> str:
        """'key' or 'section.key', as a person writes it."""
        return f"{self.section}.{self.key}" if self.section else self.key

    @property
    def shown_in(self) -> str:
        """The section under whose title it is shown."""
        return self.form or self.section


# what a metre of each costs, or each one of them
_PRICED = {
    "trench": ("Trench, bedding, pipe, closing", "per m"),
    "digging": ("Digging, for each metre of depth", "per m"),
    "deep": ("More for each metre below the ladder depth", "per m"),
    "driveway": ("Under a driveway", "per m"),
    "paving": ("Under paving", "per m"),
    "walk": ("Under a walk", "per m"),
    "wet": ("In a wet low spot", "per m"),
    "roots": ("Inside a tree's root circle", "per m"),
    "loose_fill": ("In loose fill beside a foundation", "per m"),
    "wall_side": ("More in the inner half of that", "per m"),
    "retaining": ("Beside a retaining wall, or up a steep face", "per m"),
    "lot_line": ("Along a lot line", "per m"),
    "street": ("In the street", "per m"),
    "bend": ("A bend", "each"),
    "odd_bend": ("More for an odd angle", "each"),
    "wye": ("A wye", "each"),
    "grade_break": ("A change of grade", "each"),
    "askew": ("A pavement edge crossed askew", "each"),
}
_LAID = {
    "frost_depth": "Depth of frost",
    "house_backfill_depth": "Depth of the fill beside the house",
    "wet_layer": "Thickness of the wet layer",
}
_SAID = {
    "house_backfill": "Fill beside the house",
    "vehicle": "Heaviest vehicle on the drive",
    "wet_soil": "Soil where it is wet",
}


def _laid_in(field: str, unit: str) -> float | None:
    usual = getattr(_LAYING, field)
    return None if usual is None else round(usual / LENGTH[unit], 6)


KEYS: tuple[SiteKey, ...] = (
    SiteKey("", "name", "Name of the lot", "text"),
    SiteKey(
        "",
        "crs",
        "System of the coordinates",
        "text",
        source='"local" for an assumed grid, or a code such as EPSG:6539',
    ),
    SiteKey("", "length_unit", "Lengths are in", "choice", choices=SITE_UNITS, source="declared, never guessed"),
    SiteKey("", "elevation_unit", "Elevations are in", "choice", choices=SITE_UNITS),
    SiteKey("", "note", "Note", "text"),
    SiteKey("", "rule_profile", "Rules of the place", "text", source="a file of the folder: docs/rule-profiles.md"),
    SiteKey("", "confirm_units", "The units are meant", "yes", source="where evidence speaks against them"),
    SiteKey(
        "", "confirm", "Questions answered with yes", "texts", source="as each question was put, semicolons between"
    ),
    SiteKey(
        "ground",
        "accuracy",
        "One standard deviation of an elevation",
        unit="height",
        usual=float(SOIL_SHOT),
        limits="above 0, at most 5 m",
        source=SOIL_SHOT.source,
    ),
    SiteKey(
        "ground",
        "shots_accuracy",
        "Of a shot beside a grid",
        unit="height",
        usual=float(SHOT_BESIDE_GRID),
        limits="above 0, at most 5 m",
        source=SHOT_BESIDE_GRID.source,
    ),
    SiteKey(
        "ground",
        "shared_accuracy",
        "Of what all have in common",
        unit="height",
        usual=0.0,
        limits="0 to 5 m",
        source="a benchmark's own doubt",
    ),
    SiteKey("ground", "points_order", "A point list gives", "choice", choices=("north-first", "east-first")),
    SiteKey("ground", "points_unit", "Its coordinates are in", "choice", choices=SITE_UNITS),
    SiteKey("ground", "points_elevation_unit", "Its elevations are in", "choice", choices=SITE_UNITS),
    SiteKey(
        "ground", "not_ground", "Shots that stand on no ground", "texts", source="their numbers, semicolons between"
    ),
    SiteKey(
        "ground",
        "strip",
        "Ground counts as level across shots on one line",
        unit="length",
        limits="to each side, at most 15 m",
    ),
    SiteKey(
        "ground",
        "datum",
        "The grid is lifted onto",
        "choice",
        choices=("shots",),
        source="whatever the difference between the two",
    ),
    SiteKey("ground", "rod", "The rod of the level notes reads", "choice", choices=("tenths", "inches", "metres")),
    SiteKey("ground", "grid", "a file", "by hand"),
    SiteKey("ground", "shots", "a file", "by hand"),
    SiteKey("ground", "levels", "a file", "by hand"),
    SiteKey("ground", "benchmarks", "names with elevations", "by hand"),
    SiteKey("features", "files", "files", "by hand"),
    SiteKey(
        "plat",
        "sides",
        "Sides, clockwise from the frontage",
        "numbers",
        "length",
        limits="three or more",
        source="evidence for units",
    ),
    SiteKey("plat", "area", "Area", unit="area", limits="above 0"),
    SiteKey("plat", "frontage_bearing", "Bearing of the frontage", unit="° from north", limits="0 to below 360"),
    SiteKey("plat", "image", "a picture", "by hand", source="tool Picture under"),
    SiteKey("plat", "image_points", "its known points", "by hand", source="tool Picture under"),
    SiteKey("rainfall", "intensity", "Intensity", unit="rain", limits="above 0", source="or a table, not both"),
    SiteKey("rainfall", "table", "Table: minutes, mean intensity", "rows", "rain", limits="durations rising"),
    SiteKey(
        "rainfall",
        "table_gives",
        "The table gives",
        "choice",
        usual="intensities",
        choices=("intensities", "depths"),
        source="as its publisher prints it",
    ),
    SiteKey(
        "rainfall",
        "duration",
        "Duration that sizes are chosen for",
        unit="min",
        usual=float(ROOF_ANSWERS),
        limits="inside the table",
        source=ROOF_ANSWERS.source,
    ),
    SiteKey("rainfall", "years", "Return period", unit="years", limits="above 0"),
    SiteKey("rainfall", "source", "Source of the rain", "text", source="printed with every answer"),
    SiteKey(
        "rainfall", "series", "A storm of your own: end of block in minutes, intensity", "rows", "rain", limits="rising"
    ),
    SiteKey(
        "water",
        "basis",
        "Capacity by",
        "choice",
        usual=_SIZING.basis,
        choices=("manning", COLEBROOK, *(table.code for table in code_tables())),
        source="docs/water.md",
    ),
    SiteKey(
        "water",
        "kb_mm",
        "Roughness in use",
        unit="mm",
        usual=USUAL_KB,
        limits=f"{LEAST_KB:g} to {MOST_KB:g}, with {COLEBROOK} alone",
        source="EN 12056-2, annex B (memory)",
    ),
    SiteKey(
        "water",
        "design_fill",
        "Design fill",
        unit="of 1",
        usual=_SIZING.fill,
        limits="above 0, at most 1",
        source="docs/water.md",
    ),
    SiteKey("water", "fill_of", "Fill is of the", "choice", usual=_SIZING.fill_of, choices=("depth", "flow")),
    SiteKey(
        "water", "roughness", "Roughness of the pipe", "choice", usual=_SIZING.age, choices=("design", "new", "aged")
    ),
    SiteKey(
        "water",
        "pipe",
        "Kind of pipe",
        "choice",
        usual=_SIZING.pipe,
        choices=pipes.kinds(),
        source="siteplan pipes",
        offers="kinds",
    ),
    SiteKey("water", "smallest", "Smallest size", "choice", source="of that kind", offers="sizes"),
    SiteKey("water", "largest", "Largest size", "choice", source="of that kind", offers="sizes"),
    *(
        SiteKey(
            "trench",
            f"{stem}_{unit}",
            _LAID[stem],
            unit=unit,
            usual=_laid_in(field, unit),
            limits=f"0 to {MOST_LENGTH / LENGTH[unit]:.0f}",
            source="docs/pipe-and-ground.md",
            family=stem,
        )
        for stem, field in TRENCH_LENGTHS.items()
        for unit in LENGTH_UNITS
    ),
    *(
        SiteKey("trench", key, _SAID[key], "choice", usual=getattr(_LAYING, field) or None, choices=words)
        for key, (field, words) in TRENCH_WORDS.items()
    ),
    SiteKey(
        "trench",
        "certainty",
        "How sure covers are kept",
        unit="of 1",
        usual=_LAYING.certainty,
        limits=f"{SURENESS[0]:g} to {SURENESS[1]:g}",
        source="docs/doubt.md",
    ),
    *(
        SiteKey(
            "costs",
            key,
            _PRICED[key][0],
            unit=_PRICED[key][1],
            usual=getattr(DEFAULT_PRICES, key),
        )
        for key in DEFAULT_PRICES._fields
    ),
    SiteKey("costs", "coupling", "A change of kind of pipe", unit="each", usual=COUPLING),
    SiteKey("costs", "unit_prices", "Table of unit prices", "text", source="a file of the folder: docs/quantities.md"),
    *(
        SiteKey(
            "costs.pipe",
            kind,
            f"Pipe {kind}, of 4 in",
            unit="per m",
            usual=PIPE_PRICES.get(kind, UNLISTED_PIPE),
            form="costs",
        )
        for kind in sorted({stock.pipe.kind for stock in stocks({})})
    ),
    SiteKey("", "pipes", "pipes of your own", "by hand", source="docs/pipe-and-ground.md"),
    SiteKey(
        "search",
        "gap_percent",
        "A search stops within",
        unit="% of the bound",
        usual=100 * _EFFORT.gap,
        limits="{:g} to {:g}".format(*SEARCH_LIMITS["gap_percent"]),
        source="docs/routes.md",
    ),
    SiteKey(
        "search",
        "steps",
        "or after",
        unit="bundles of sources",
        usual=_EFFORT.steps,
        limits="{:g} to {:g}, whole".format(*SEARCH_LIMITS["steps"]),
        source="docs/routes.md",
    ),
    SiteKey(
        "search",
        "seconds",
        "or after",
        unit="s by the clock",
        limits="{:g} to {:g}".format(*SEARCH_LIMITS["seconds"]),
        source="the same input may then have another answer",
    ),
)
BY_NAME: Mapping[str, SiteKey] = {one.name: one for one in KEYS}
SECTION_TITLES: Mapping[str, str] = {
    "": "The site",
    "ground": "Ground",
    "rainfall": "Rain",
    "water": "Pipe and water",
    "trench": "Trench",
    "costs": "Costs",
    "plat": "What the plat says",
    "search": "Search",
}
SECTION_NOTES: Mapping[str, str] = {
    "costs": f"Relative, to rank ways: 1 is a metre of lawn trench before any depth, each from 0 to {MOST_PRICE:,.0f}. "
    f"{TRADE}: the ranking is the "
    "trade's, the figures are ours (docs/costs.md).",
    "search": "When a search over more than five sources stops.",
}


def keys_of(section: str) -> tuple[str, ...]:
    """Keys that a section may hold.

    Parameters
    ----------
    section : str
        '' for the head of the file.

    Returns
    -------
    tuple of str
        Without their section.
    """
    return tuple(one.key for one in KEYS if one.section == section)


def unit_said(one: SiteKey, length_unit: str, elevation_unit: str) -> str:
    """The unit of a key, as printed beside it.

    Parameters
    ----------
    one : SiteKey
        The key.
    length_unit, elevation_unit : str
        Of the site.

    Returns
    -------
    str
        '' where it has none.
    """
    metric = length_unit == "m"
    own = {
        "length": length_unit,
        "height": elevation_unit,
        "area": "m²" if metric else "sq ft",
        "rain": "mm/h" if metric else "in/h",
    }
    return own.get(one.unit, one.unit)


def usual_said(one: SiteKey, elevation_unit: str) -> Any:
    """What holds where nothing is said, in the unit of `unit_said`.

    Parameters
    ----------
    one : SiteKey
        The key.
    elevation_unit : str
        Of the site.

    Returns
    -------
    object
        None: nothing does.
    """
    if one.unit == "height" and one.usual is not None:
        return round(from_metres(float(one.usual), elevation_unit), 3)
    return one.usual
