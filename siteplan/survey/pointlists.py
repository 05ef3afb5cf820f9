"""A surveyor's point list as it arrives in; points in metres, with the evidence for order and unit, out.

CSV or TXT, separated by commas, semicolons, tabs or blanks, with any header or none. Coordinates may stand northing
first or easting first: the two look alike, so `pointlist_signs` is asked, and what it cannot settle stops with a
question.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from siteplan import units
from siteplan.errors import InputError, NotGiven, raise_gathered
from siteplan.survey.pointlist_rows import RawPoint, RawTable, coordinate_names, read_table
from siteplan.survey.pointlist_signs import Clues, ListSign, elevation_signs, order_signs, size_signs

ORDERS = ("north-first", "east-first")
_SPOKEN = {"north-first": "point, northing, easting", "east-first": "point, easting, northing"}
# a shot this far off, and ten times as far as most, has a wrong digit; common practice, no source
_FAR = 1000 * units.FOOT
_HIGH = 50 * units.FOOT


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedPoint:
    """One point of the list, in metres. `elevation` is None when the list does not know it."""

    number: str
    northing: float
    easting: float
    elevation: float | None
    description: str
    row: int
    doubt: float = 0.0  # one standard deviation that a level's coarse rod adds to its height


@dataclass(frozen=True, slots=True, kw_only=True)
class PointList:
    """A point list read, and why it was read so."""

    points: tuple[ListedPoint, ...]
    order: str  # north-first | east-first
    unit: str  # ft | us-ft | m, of northing and easting
    elevation_unit: str
    of_units: tuple[str, ...]  # what shows them
    of_order: str
    notes: tuple[str, ...]

    @property
    def evidence(self) -> tuple[str, ...]:
        """All that is said of how the list was read."""
        return (*self.of_units, self.of_order, *self.notes)


def read_points(
    path: Path,
    *,
    order: str | None = None,
    unit: str | None = None,
    elevation_unit: str | None = None,
    clues: Clues | None = None,
    shown: str | None = None,
) -> PointList:
    """Read a point list, deciding order and unit by evidence.

    Parameters
    ----------
    path : Path
        The list.
    order : str, optional
        'north-first' or 'east-first', a person's answer. It settles what the evidence cannot; evidence that is
        unanimous against it is still refused.
    unit : str, optional
        'ft', 'us-ft' or 'm' of northing and easting, a person's answer.
    elevation_unit : str, optional
        The same for elevations; that of the coordinates when absent.
    clues : Clues, optional
        What else is known of the lot: plat, roof, frontage, other features, declared units.
    shown : str, optional
        Name of the file in messages.

    Returns
    -------
    PointList
        Points in metres, in the order of the file.

    Raises
    ------
    InputError, InputErrors
        Row, field and mending of what cannot be read; the question that the evidence leaves open, with
        the key that answers it.
    """
    shown = shown or path.name
    clues = clues or Clues()
    for name, value, allowed in (
        ("points_order", order, ORDERS),
        ("points_unit", unit, units.SITE_UNITS),
        ("points_elevation_unit", elevation_unit, units.SITE_UNITS),
    ):
        if value is not None and value not in allowed:
            raise InputError(name, f"is {value!r}", f"Give one of {', '.join(allowed)}.")
    table = read_table(path, shown)
    flat_unit, high_unit, unit_texts = _decide_units(table, unit, elevation_unit, clues, shown)
    _refuse_outliers(table, shown, flat_unit, high_unit)
    direction, order_text = _decide_order(table, order, flat_unit, clues, shown)
    points = tuple(_point(raw, direction, flat_unit, high_unit) for raw in table.points)
    return PointList(
        points=points,
        order=direction,
        unit=flat_unit,
        elevation_unit=high_unit,
        of_units=unit_texts,
        of_order=order_text,
        notes=tuple(table.notes),
    )


def _point(raw: RawPoint, order: str, unit: str, elevation_unit: str) -> ListedPoint:
    northing, easting = (raw.first, raw.second) if order == "north-first" else (raw.second, raw.first)
    elevation = raw.elevation_metres
    if elevation is None and raw.elevation is not None:
        elevation = units.to_metres(raw.elevation, elevation_unit)
    return ListedPoint(
        number=raw.number,
        northing=units.to_metres(northing, unit),
        easting=units.to_metres(easting, unit),
        elevation=elevation,
        description=raw.description,
        row=raw.row,
    )


def _texts(signs: list[ListSign]) -> str:
    return "; ".join(dict.fromkeys(sign.text for sign in signs))


def _family(unit: str) -> str:
    """Survey and international feet look alike to every piece of evidence."""
    return "m" if unit == "m" else "ft"


def _decide_units(
    table: RawTable, unit: str | None, elevation_unit: str | None, clues: Clues, shown: str
) -> tuple[str, str, tuple[str, ...]]:
    """Units of coordinates and of elevations, each with its sentence, or the question that stays open."""
    flat, high = size_signs(table, clues), elevation_signs(table)
    declared, declared_high = clues.length_unit, clues.elevation_unit
    if unit is None and table.unit is None and elevation_unit is None:
        open_question = _against(flat, declared) + _against(high, declared_high or declared)
        if open_question:
            said = [
                f"{what} declared as {name}"
                for what, name in (("lengths", declared), ("elevations", declared_high))
                if name
            ]
            raise NotGiven(
                shown,
                f"is it in {_other(open_question)}? {'; '.join([*said, _texts(open_question)])}",
                _unit_mend(open_question),
                key="points_unit",
            )
    chosen, text = _settle(
        "coordinates", "points_unit", _named(unit, table.unit, declared), flat, high, "as the elevations are", shown
    )
    chosen_high, text_high = _settle(
        "elevations",
        "points_elevation_unit",
        _named(elevation_unit, table.elevation_unit, unit or declared_high or declared or table.unit),
        high,
        [ListSign(says=chosen, text=text)],
        "as the coordinates are",
        shown,
    )
    texts = [text, text_high]
    if chosen != "m" and unit is None and declared is None and table.unit is None:
        texts.append(_which_foot(table, clues, shown))
    return chosen, chosen_high, tuple(texts)


def _named(given: str | None, header: str | None, declared: str | None) -> tuple[str, str] | None:
    """The unit somebody named and who: a person's answer, the list's own header, the declared unit."""
    for unit, who in ((given, "as a person confirmed"), (header, "as its header says"), (declared, "as declared")):
        if unit is not None:
            return unit, who
    return None


def _against(signs: list[ListSign], declared: str | None) -> list[ListSign]:
    if declared is None or any(sign.says == _family(declared) for sign in signs):
        return []
    return [sign for sign in signs if sign.says != _family(declared)]


def _other(signs: list[ListSign]) -> str:
    return "metres" if signs[0].says == "m" else "feet"


def _unit_mend(signs: list[ListSign]) -> str:
    keys = '"ft" or "us-ft"' if signs[0].says == "ft" else '"m"'
    return f"Say points_unit = {keys} under [ground] if so; else correct the plat, the text or the declared unit."


def _settle(
    what: str,
    key: str,
    named: tuple[str, str] | None,
    signs: list[ListSign],
    others: list[ListSign],
    as_others: str,
    shown: str,
) -> tuple[str, str]:
    """A unit and the sentence for it: the named one unless all evidence is against it, else unanimous evidence."""
    says = {sign.says for sign in signs}
    if named is not None:
        unit, who = named
        supporting = [sign for sign in signs if sign.says == _family(unit)]
        opposing = [sign for sign in signs if sign.says != _family(unit)]
        if opposing and not supporting:
            raise InputError(
                shown,
                (
                    f"{what} are said to be in {units.UNIT_NAMES[unit]}, and all evidence speaks against it: "
                    f"{_texts(signs)}"
                ),
                f"Correct {key} under [ground], or the text that misleads.",
            )
        if opposing and who != "as a person confirmed":
            raise InputError(
                shown, f"{what}: the evidence disagrees: {_texts(signs)}", f'Say {key} = "m" or "ft" under [ground].'
            )
        proof = _texts(supporting) if supporting else "nothing in the list speaks against it"
        return (
            unit,
            f"{what} in {units.UNIT_NAMES[unit]} {who}: {proof}{f' (although {_texts(opposing)})' if opposing else ''}",
        )
    if len(says) == 1:
        unit = next(iter(says))
        return unit, f"{what} in {units.UNIT_NAMES[unit]} by evidence: {_texts(signs)}"
    if not says and len({sign.says for sign in others}) == 1:
        unit = others[0].says
        return unit, f"{what} in {units.UNIT_NAMES[unit]}, {as_others}"
    question = f"the evidence disagrees: {_texts(signs)}" if says else "the list names no unit, and nothing else tells"
    raise NotGiven(
        shown,
        f"are its {what} in feet or metres? {question}",
        f'Say {key} = "ft", "us-ft" or "m" under [ground].',
        key=key,
    )


def _which_foot(table: RawTable, clues: Clues, shown: str) -> str:
    """Survey or international foot: no matter on one list alone, up to 4 ft where it meets other data."""
    largest = max(max(abs(raw.first), abs(raw.second)) for raw in table.points)
    apart = largest * (units.US_SURVEY_FOOT - units.FOOT)
    if clues.boxes and apart > 0.01 * units.FOOT:
        raise NotGiven(
            shown,
            (
                f"survey feet or international feet? At {largest:.0f} ft from the origin they lie "
                f"{units.length_text(apart, 'ft')} apart, and the list must meet other data"
            ),
            'Say points_unit = "us-ft" or "ft" under [ground].',
            key="points_unit",
        )
    return (
        "feet taken as international feet; survey feet would move no point by more than "
        f"{units.length_text(apart, 'ft', 4)} of the grid and no distance on the lot visibly"
    )


def _decide_order(table: RawTable, order: str | None, unit: str, clues: Clues, shown: str) -> tuple[str, str]:
    """Northing first or easting first, and the sentence for it, or the question that stays open."""
    signs = order_signs(table, unit, clues)
    head = [] if table.order is None else [ListSign(says=table.order, text=f"the header says {_SPOKEN[table.order]}")]
    if order is not None:  # a person's word is over that of a header, and not over what the points show
        shown_by = {one: [sign for sign in signs if sign.says == one] for one in ORDERS}
        other = ORDERS[1 - ORDERS.index(order)]
        headed = [sign for sign in head if sign.says == other]
        if (shown_by[other] or headed) and not shown_by[order]:
            raise InputError(
                shown,
                (
                    f"read as {order} ({_SPOKEN[order]}) the plan is mirrored, though every length and slope "
                    f"agrees: {_texts([*headed, *shown_by[other]])}"
                ),
                f'Say points_order = "{other}" under [ground], or correct the labels.',
            )
        by_order, by_other = ([*(sign for sign in head if sign.says == one), *shown_by[one]] for one in (order, other))
        proof = _texts(by_order) if by_order else "nothing in the list tells"
        doubt = f" (although {_texts(by_other)})" if by_other else ""
        return order, f"order {order} ({_SPOKEN[order]}) as a person confirmed: {proof}{doubt}"
    signs = [*head, *signs]
    by: Mapping[str, list[ListSign]] = {one: [sign for sign in signs if sign.says == one] for one in ORDERS}
    for one, other in (ORDERS, ORDERS[::-1]):
        if by[one] and not by[other]:
            return one, f"order {one} ({_SPOKEN[one]}): {_texts(by[one])}"
    if signs:
        question = (
            f"the evidence disagrees, so the plan may be mirrored: for north-first: {_texts(by['north-first'])}; "
            f"for east-first: {_texts(by['east-first'])}"
        )
    else:
        first, second = (_span(table, index, unit) for index in (0, 1))
        question = (
            f"nothing tells (first column spans {first}, second {second}); read the wrong way the plan is "
            "mirrored, though every length and slope agrees"
        )
    raise NotGiven(
        shown,
        f"does northing or easting come first? {question}",
        'Say points_order = "north-first" or "east-first" under [ground]'
        + (", or change x and y over in the features if it is they that are turned." if signs else "."),
        key="points_order",
    )


def _span(table: RawTable, index: int, unit: str) -> str:
    values = [(raw.first, raw.second)[index] for raw in table.points]
    return f"{min(values):.2f} to {max(values):.2f} {units.UNIT_NAMES[unit]}"


def _refuse_outliers(table: RawTable, shown: str, unit: str, elevation_unit: str) -> None:
    """A slipped decimal point puts one shot far from the rest; better asked than laid out."""
    if len(table.points) < 4:
        return
    faults: list[InputError] = []
    names = coordinate_names(table.order)
    for field, name, own in (
        ("first", names[0], unit),
        ("second", names[1], unit),
        ("elevation", "elevation", elevation_unit),
    ):
        known = [(point, value) for point in table.points if (value := getattr(point, field)) is not None]
        if len(known) < 4:
            continue
        middle = _middle([value for _, value in known], 0.5)
        usual = _middle([abs(value - middle) for _, value in known], 0.75)
        limit = max(10 * usual, units.from_metres(_HIGH if field == "elevation" else _FAR, own))
        faults += [
            InputError(
                f"{shown}, row {point.row}, {name}",
                (
                    f"point {point.number} at {value:.2f} {units.UNIT_NAMES[own]} lies {abs(value - middle):.2f} "
                    f"{units.UNIT_NAMES[own]} from the middle of the others"
                ),
                "Put the decimal point where it belongs, or take the point out.",
            )
            for point, value in known
            if abs(value - middle) > limit
        ]
    raise_gathered(faults)


def _middle(values: list[float], share: float) -> float:
    ranked = sorted(values)
    return ranked[min(len(ranked) - 1, int(share * len(ranked)))]
