"""Coded shots in the plan's frame in.

The walls, fences, services and trees that they mark out as features, and what stays open, out.

What a surveyor shot and nobody drew is as real as what was drawn. Runs of one code become lines; what cannot be made a
line is asked about where a trench must not meet it unseen, and said otherwise.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

from siteplan import units
from siteplan.books.kinds import PAVEMENT_KINDS
from siteplan.books.practice import CODE_GAP
from siteplan.site import Feature
from siteplan.survey.astray import STREET, TURNED
from siteplan.survey.files import said
from siteplan.survey.questions import Oddity
from siteplan.survey.shot_codes import break_code
from siteplan.survey.shot_things import LINES, Thing, spoken_of, thing_of

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

# every figure here is common practice, no source
BROKEN_OFF = 10.0  # shots of one code with ground shots between them in the list are joined over no more than this [m]
DRAWN = 1.0  # a shot this near to a drawn feature of its kind is a shot of it [m]
SAME_WALL = 1.5  # top and toe of one wall lie no farther apart [m]
AT_HOUSE = 0.6  # shots of a wall all this near to a building are of the building [m]
_SAME_PLACE = 0.02  # [m]
_NEED = {
    "wall": "no line of this plan was held to it",
    "fence": "no line of this plan looked at it",
    "utility": "no line of this plan keeps clear of it",
    "no_dig": "no line of this plan keeps clear of it",
    "paving": "the ground there has the covers of lawn",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedShot:
    """One point of the list in the plan's frame [m], with or without a height."""

    number: str
    x: float
    y: float
    description: str


class ShotFeatures(NamedTuple):
    """What shots mark out. `places`: file and number to how an error names the feature."""

    features: tuple[Feature, ...]
    places: dict[tuple[str, int], str]
    notes: tuple[str, ...]
    oddities: tuple[Oddity, ...]


class _Coded(NamedTuple):
    at: int  # place in the list
    shot: PlacedShot
    thing: Thing


_Run = list[_Coded]


def shot_features(
    shots: Sequence[PlacedShot], drawn: Sequence[Feature], shown: str, first: int, unit: str
) -> ShotFeatures:
    """Features of coded shots that nobody drew.

    Parameters
    ----------
    shots : sequence of PlacedShot
        All points of the list, in its order.
    drawn : sequence of Feature
        In the plan's frame.
    shown : str
        The list's name.
    first : int
        Number of the first feature made.
    unit : str
        Of lengths in sentences.

    Returns
    -------
    ShotFeatures
        Lines for runs of two shots or more, a point for each tree; one sentence for each; questions where a lone shot
        marks a wall, a service, a tank or a well on the lot or within 3 m of it.
    """
    coded = [_Coded(at, shot, thing) for at, shot in enumerate(shots) if (thing := thing_of(shot.description))]
    if not coded and not any(spoken_of(shot.description) for shot in shots):
        return ShotFeatures((), {}, (), ())
    return _Made(shots, drawn, shown, first, unit).of(coded)


class _Made:
    """The features of one list while they are made."""

    def __init__(
        self, shots: Sequence[PlacedShot], drawn: Sequence[Feature], shown: str, first: int, unit: str
    ) -> None:
        self.shots, self.drawn, self.shown, self.next, self.unit = shots, drawn, shown, first, unit
        self.lot = next(feature.geometry for feature in drawn if feature.kind == "lot")
        self.features: list[Feature] = []
        self.places: dict[tuple[str, int], str] = {}
        self.notes: list[str] = []
        self.oddities: list[Oddity] = []

    def of(self, coded: Sequence[_Coded]) -> ShotFeatures:
        near = [one for one in coded if self.lot.distance(_point(one.shot)) <= STREET]
        if len(near) < len(coded):
            self.notes.append(
                f"{self.shown}: {len(coded) - len(near)} shots of walls, fences, services and the like lie "
                f"more than {units.length_text(STREET, self.unit, 1)} off the lot and are left out"
            )
        lone: list[_Coded] = []
        for runs in _runs(near, self.shots):
            made: list[tuple[str, BaseGeometry]] = []
            for run in sorted(runs, key=lambda run: _ORDER[run[0].thing.part]):
                lone += self._line(run, made)
            self._gaps(runs)
        for one in near:
            if one.thing.kind == "tree":
                self._tree(one)
        others = [one for one in near if one.thing.kind in ("no_dig", "paving") or one.thing.part == "mark"]
        self._open([*lone, *others])
        self._spoken()
        return ShotFeatures(tuple(self.features), self.places, tuple(self.notes), tuple(self.oddities))

    def _line(self, run: _Run, made: list[tuple[str, BaseGeometry]]) -> _Run:
        """A run as a line; back come its shots where they make none and nothing drawn accounts for them."""
        from shapely.geometry import LineString

        thing = run[0].thing
        if self._accounted(run, made):
            return []
        corners = [run[0], *(b for a, b in itertools.pairwise(run) if _apart(a.shot, b.shot) > _SAME_PLACE)]
        if len(corners) < 2:
            return run
        line = LineString([(one.shot.x, one.shot.y) for one in corners])
        made.append((thing.part, line))
        numbers = _numbers(corners)
        attributes: dict[str, Any] = {"service": thing.service} if thing.kind == "utility" else {}
        self._add(thing.kind, f"{thing.title} shot at {numbers}", line, attributes, f"points {numbers}")
        what = (
            "a retaining wall"
            if thing.kind == "wall"
            else "a fence"
            if thing.kind == "fence"
            else f"a service, {thing.title}, its depth not known"
        )
        off = [one for one in corners if self._near(one) is None]
        beside = f"; {len(corners) - len(off)} of them lie along one that is drawn" if len(off) < len(corners) else ""
        self.notes.append(
            f'{self.shown}: points {numbers}, coded "{said(corners[0].shot.description, 24)}", are taken as '
            f"{what}, {units.length_text(line.length, self.unit, 1)} long{beside}; draw it where it runs "
            "otherwise"
        )
        return []

    def _accounted(self, run: _Run, made: Sequence[tuple[str, BaseGeometry]]) -> bool:
        """Whether something drawn, a house or another part of the same wall is what the run shows."""
        thing = run[0].thing
        names = [self._near(one) for one in run]
        if all(name is not None for name in names):
            self.notes.append(
                f'{self.shown}: points {_numbers(run)}, coded "{said(run[0].shot.description, 24)}", lie '
                f'along "{names[0]}", which is drawn'
            )
            return True
        if thing.kind == "wall" and self._at_house(run):
            self.notes.append(
                f'{self.shown}: points {_numbers(run)}, coded "{said(run[0].shot.description, 24)}", lie at a '
                "building and are taken as its wall"
            )
            return True
        if thing.kind != "wall":
            return False
        for part, line in made:
            if part != thing.part and all(line.distance(_point(one.shot)) <= SAME_WALL for one in run):
                self.notes.append(
                    f"{self.shown}: points {_numbers(run)} are taken as another edge of the wall beside them"
                )
                return True
        return False

    def _at_house(self, run: Iterable[_Coded]) -> bool:
        houses = [feature.geometry for feature in self.drawn if feature.kind == "building"]
        return bool(houses) and all(
            min(float(house.distance(_point(one.shot))) for house in houses) <= AT_HOUSE for one in run
        )

    def _near(self, one: _Coded) -> str | None:
        """What is drawn of the shot's kind within reach."""
        for feature in self.drawn:
            same = feature.kind == one.thing.kind
            if same and one.thing.kind == "utility":
                same = feature.attributes.get("service", one.thing.service) == one.thing.service
            if same and float(feature.geometry.distance(_point(one.shot))) <= DRAWN:
                return feature.name or feature.kind.replace("_", " ")
        return None

    def _tree(self, one: _Coded) -> None:
        if self._near(one) is not None:
            return
        trunk = one.thing.trunk
        number = said(one.shot.number)
        self._add(
            "tree", f"tree shot at {number}", _point(one.shot), {"diameter": trunk} if trunk else {}, f"point {number}"
        )
        size = units.length_text(trunk, self.unit) if trunk else "not told in inches or centimetres"
        self.notes.append(
            f'{self.shown}: point {number}, coded "{said(one.shot.description, 24)}", is taken as a tree, its '
            f"trunk {size}"
        )

    def _add(self, kind: str, name: str, geometry: BaseGeometry, attributes: dict[str, Any], place: str) -> None:
        number = self.next + len(self.features)
        self.features.append(
            Feature(
                kind=kind,
                name=name,
                geometry=geometry,
                attributes=MappingProxyType(attributes),
                file=self.shown,
                number=number,
            )
        )
        self.places[self.shown, number] = f"{self.shown}, {place}"

    def _gaps(self, runs: Sequence[_Run]) -> None:
        """Runs of one code that may be one line with a gap in the shooting."""
        ordered = sorted((run for run in runs if not run[0].thing.number), key=lambda run: run[0].at)
        for before, after in itertools.pairwise(ordered):
            thing = before[0].thing
            gap = _apart(before[-1].shot, after[0].shot)
            if (
                thing.part != after[0].thing.part
                or gap > CODE_GAP
                or "end" in (before[-1].thing.turn, after[0].thing.turn)
            ):
                continue
            if self._near(before[-1]) is not None or self._near(after[0]) is not None:
                continue
            numbers = f"{said(before[-1].shot.number)} and {said(after[0].shot.number)}"
            self.oddities.append(
                Oddity(
                    key=f"{thing.title}, gap",
                    where=self.shown,
                    what=(
                        f"points {numbers} are both shots of {units.with_article(thing.title)}, "
                        f"{units.length_text(gap, self.unit, 1)} apart with other shots between them, and are not "
                        "joined"
                    ),
                    mend="If it goes on between them, number the line (WALL 1) or draw it.",
                    asks=False,
                )
            )

    def _open(self, shots: Sequence[_Coded]) -> None:
        """Lone shots: each kind in one question, or one sentence."""
        groups: dict[tuple[str, str], list[_Coded]] = {}
        for one in shots:
            if self.lot.distance(_point(one.shot)) <= TURNED and not self._covered(one):
                groups.setdefault((one.thing.kind, one.thing.title), []).append(one)
        for (kind, title), group in groups.items():
            asked = kind in ("wall", "utility", "no_dig") and any(
                one.thing.bare and one.thing.part != "mark" for one in group
            )
            codes = " and ".join(dict.fromkeys(f'"{said(one.shot.description, 24)}"' for one in group[:3]))
            what = (
                f"{_points(group)}, coded {codes}: the {title} there is not drawn and its shots make no line, so "
                f"{_NEED[kind]}"
            )
            if kind == "no_dig":
                what = f"{_points(group)}, coded {codes}: the {title} there is not drawn, so {_NEED[kind]}"
            if kind == "paving":
                what = f"{_points(group)}, coded {codes}: no driveway, walk or paving is drawn there, so {_NEED[kind]}"
            self.oddities.append(
                Oddity(key=f"{title}, shots", where=self.shown, what=what, mend=_mend(kind), asks=asked)
            )

    def _covered(self, one: _Coded) -> bool:
        """Whether a drawn feature speaks of what the shot shows."""
        here = _point(one.shot)
        kinds = {"paving": PAVEMENT_KINDS, "no_dig": ("no_dig", "building", "neighbour")}.get(
            one.thing.kind, (one.thing.kind,)
        )
        if one.thing.part == "mark":  # a meter shows that a service comes: one that is drawn anywhere will be it
            return any(
                feature.kind == "utility" and feature.attributes.get("service", one.thing.service) == one.thing.service
                for feature in (*self.drawn, *self.features)
            )
        reach = SAME_WALL if one.thing.kind == "paving" else DRAWN
        return any(
            feature.kind in kinds and float(feature.geometry.distance(here)) <= reach for feature in self.drawn
        ) or (one.thing.kind == "wall" and self._at_house([one]))

    def _spoken(self) -> None:
        """Remarks that speak of such a thing without being its code: said, for they decide nothing."""
        from shapely.geometry import Point

        houses = [feature.geometry for feature in self.drawn if feature.kind == "building"]
        told: dict[str, list[str]] = {}
        for shot in self.shots:
            title = None if thing_of(shot.description) else spoken_of(shot.description)
            here = Point(shot.x, shot.y)
            if (
                title is None
                or self.lot.distance(here) > TURNED
                or any(float(house.distance(here)) <= SAME_WALL for house in houses)
            ):
                continue
            if any(
                float(one.geometry.distance(here)) <= 2 * SAME_WALL
                for one in (*self.drawn, *self.features)
                if one.kind in (*LINES, "no_dig")
            ):
                continue
            told.setdefault(title, []).append(f'{said(shot.number)} "{said(shot.description, 30)}"')
        for title, texts in told.items():
            more = f" and {len(texts) - 4} more" if len(texts) > 4 else ""
            self.oddities.append(
                Oddity(
                    key=f"{title}, spoken of",
                    where=self.shown,
                    what=(
                        f"descriptions speak of {units.with_article(title)} that is neither coded nor drawn: "
                        f"{', '.join(texts[:4])}{more}"
                    ),
                    mend="Draw it if it is on the lot.",
                    asks=False,
                )
            )


_ORDER = {"top": 0, "": 1, "toe": 2, "mark": 3}


def _runs(coded: Sequence[_Coded], shots: Sequence[PlacedShot]) -> list[list[_Run]]:
    """Runs of shots that follow one another along a line, by kind."""
    by_kind: dict[tuple[str, str], dict[tuple[str, str], list[_Coded]]] = {}
    for one in coded:
        thing = one.thing
        if thing.kind in LINES and thing.part != "mark":
            by_kind.setdefault((thing.kind, thing.service), {}).setdefault((thing.part, thing.number), []).append(one)
    found = []
    for groups in by_kind.values():
        counted = _counted(groups)
        runs: list[_Run] = []
        for (_, number), members in counted.items():
            runs += _chained(members, shots, {one.at for one in coded}, numbered=bool(number))
        found.append(runs)
    return found


def _counted(groups: dict[tuple[str, str], list[_Coded]]) -> dict[tuple[str, str], list[_Coded]]:
    """Numbers that only count the shots of one line (WALL 1, WALL 2, WALL 3) are no numbers of lines."""
    merged: dict[tuple[str, str], list[_Coded]] = {}
    for part in dict.fromkeys(part for part, _ in groups):
        own = {number: members for (name, number), members in groups.items() if name == part}
        numbers = [number for number in own if number]
        counts = len(numbers) > 1 and all(len(own[number]) == 1 for number in numbers)
        for number, members in own.items():
            merged.setdefault((part, "" if counts else number), []).extend(members)
    return {key: sorted(members, key=lambda one: one.at) for key, members in merged.items()}


def _chained(members: Sequence[_Coded], shots: Sequence[PlacedShot], coded: set[int], *, numbered: bool) -> list[_Run]:
    runs: list[_Run] = []
    for one in members:
        before = runs[-1] if runs else None
        closed = before is None or one.thing.turn == "start" or (len(before) > 1 and before[-1].thing.turn == "end")
        if before is not None and not closed:
            between = range(before[-1].at + 1, one.at)
            alone = all(at in coded or break_code(shots[at].description) for at in between)
            closed = _apart(before[-1].shot, one.shot) > (CODE_GAP if alone or numbered else BROKEN_OFF)
        if closed or before is None:
            runs.append([one])
        else:
            before.append(one)
    return runs


def _apart(a: PlacedShot, b: PlacedShot) -> float:
    return math.hypot(a.x - b.x, a.y - b.y)


def _point(shot: PlacedShot) -> BaseGeometry:
    from shapely.geometry import Point

    point: BaseGeometry = Point(shot.x, shot.y)
    return point


def _numbers(run: Sequence[_Coded]) -> str:
    names = [said(one.shot.number, 20) for one in run]
    return ", ".join(names) if len(names) <= 3 else f"{names[0]} to {names[-1]}"


def _points(group: Sequence[_Coded]) -> str:
    names = [said(one.shot.number, 20) for one in group]
    more = f" and {len(names) - 6} more" if len(names) > 6 else ""
    return f"point{'s' if len(names) > 1 else ''} {', '.join(names[:6])}{more}"


def _mend(kind: str) -> str:
    if kind == "no_dig":
        return "Draw it as no_dig, as wide as its clearance by the local rule."
    if kind == "paving":
        return "Draw what is paved."
    return f"Draw it as {'an' if kind[0] in 'aeio' else 'a'} {kind}, or shoot it at both ends and each bend."
