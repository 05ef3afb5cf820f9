"""A scene in; what its plan lists twice out.

A source taken twice counts its water twice, a stake twice is two holes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator
from typing import TypeVar

from siteplan.checks.scene import Scene

Entry = TypeVar("Entry", bound=Hashable)
Told = tuple[str, str, float, float, str]  # subject, what, times listed, times it may be, where


def listed_twice(scene: Scene) -> Iterator[Told]:
    """What stands more than once in a list whose entries are things of their own.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Yields
    ------
    tuple of str, str, float, float, str
        Whose, what, how often it is listed and how often it may be, the place.
    """
    plan = scene.plan
    for what, ids in (
        ("source", [one.id for one in plan.sources]),
        ("outlet", [one.id for one in plan.outlets]),
        ("low spot", [one.id for one in plan.low_spots]),
    ):
        for name, times in _more(ids):
            yield name, f"times this {what} is listed", times, 1.0, ""
    for names, times in _more((one.sources, one.outlet) for one in plan.candidates):
        yield f"{', '.join(names[0])}:to {names[1]}", "times this candidate is listed", times, 1.0, ""
    for tried, times in _more((one.source, one.outlet) for one in plan.attempts):
        yield f"{tried[0]}:to {tried[1]}", "times this attempt is listed", times, 1.0, ""
    for line in plan.lines:
        words = scene.words
        for name, times in _more(line.sources):
            yield line.id, f"times source {name} is listed", times, 1.0, ""
        for station, times in _more(row.station for row in line.rows):
            yield line.id, "times a station is in the schedule", times, 1.0, words.station(station)
        for passage, times in _more(line.low_spots):
            yield line.id, f"times a stretch in {passage.id} is listed", times, 1.0, words.station(passage.station_from)
        for (kind, name, start, _), times in _more(
            (one.kind, one.name, one.station_from, one.station_to) for one in line.crossings
        ):
            drawn = float(max(1, sum(one.name == name for one in scene.site.of_kind(kind))))
            if times > drawn:
                yield line.id, f"times one {kind} crossing is listed", times, drawn, words.station(start)


def _more(entries: Iterable[Entry]) -> Iterator[tuple[Entry, float]]:
    return ((one, float(times)) for one, times in Counter(entries).items() if times > 1)
