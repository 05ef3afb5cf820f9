"""One record of plan.json in; its texts, numbers and lists out, or one message that says where it cannot be read."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from typing import Any, TypeVar

from siteplan.errors import InputError

PLAN_FILE = "plan.json"
MEND = "Take plan.json from the one who made the plan, or make it again with siteplan plan."
ANY = 1e12  # greatest number that a plan can hold
PLACE = 3e7  # m: greatest coordinate of any frame
FARTHEST_APART = 2e4  # m: greatest length or elevation of a lot's plan

Value = TypeVar("Value")


class PlanRecord:
    """A record that knows where it stands in plan.json."""

    __slots__ = ("_data", "_where")

    def __init__(self, data: object, where: str) -> None:
        if not isinstance(data, Mapping):
            raise InputError(f"{PLAN_FILE}, {where}" if where else PLAN_FILE, "is no record", MEND)
        self._data = data
        self._where = where

    @property
    def where(self) -> str:
        """Its place in plan.json."""
        return self._where

    def fault(self, key: str, what: str) -> InputError:
        """A message about one key."""
        return InputError(f"{PLAN_FILE}, {self._where}, {key}" if self._where else f"{PLAN_FILE}, {key}", what, MEND)

    def get(self, key: str) -> Any:
        """What stands under a key as parsed, None where there is none."""
        return self._data.get(key)

    def text(self, key: str) -> str:
        """A text that must be there."""
        value = self._data.get(key)
        if not isinstance(value, str):
            raise self.fault(key, "is missing" if value is None else "is no text")
        return value

    def text_or(self, key: str, other: str = "") -> str:
        """A text, or another where none stands."""
        return self.text(key) if self._data.get(key) is not None else other

    def text_maybe(self, key: str) -> str | None:
        """A text, None where none stands."""
        return self.text(key) if self._data.get(key) is not None else None

    def word(self, key: str, known: Collection[str], other: str | None = None) -> str:
        """A text that must be one of a few."""
        value = self.text(key) if other is None else self.text_or(key, other)
        if value not in known:
            raise self.fault(key, f"is {value[:40]!r}, not one of {', '.join(sorted(known))[:200]}")
        return value

    def number(self, key: str, most: float = FARTHEST_APART) -> float:
        """A number that must be there, no greater than a plan can hold."""
        value = self._data.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.fault(key, "is missing" if value is None else "is no number")
        if not abs(value) <= most:
            raise self.fault(key, "is no number that a plan can hold")
        return float(value)

    def maybe(self, key: str, most: float = FARTHEST_APART) -> float | None:
        """A number, None where it is not known."""
        return None if self._data.get(key) is None else self.number(key, most)

    def known(self, key: str, most: float = FARTHEST_APART) -> float:
        """A number, NaN where it is not known."""
        value = self.maybe(key, most)
        return math.nan if value is None else value

    def whole(self, key: str) -> int:
        """A whole number that must be there."""
        value = self._data.get(key)
        if isinstance(value, bool) or not isinstance(value, int) or not abs(value) <= ANY:
            raise self.fault(key, "is missing" if value is None else "is no whole number")
        return value

    def yes(self, key: str, *, other: bool) -> bool:
        """True or false, or another where neither stands."""
        value = self._data.get(key, other)
        if not isinstance(value, bool):
            raise self.fault(key, "is neither true nor false")
        return value

    def records(self, key: str) -> list[PlanRecord]:
        """A list of records that must be there."""
        value = self._data.get(key)
        if not isinstance(value, list):
            raise self.fault(key, "is missing" if value is None else "is no list")
        return [PlanRecord(item, f"{self._where} {key} {number}".strip()) for number, item in enumerate(value, 1)]

    def inside(self, key: str) -> PlanRecord:
        """A record that must be there."""
        return PlanRecord(self._data.get(key), f"{self._where} {key}".strip())

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts that must be there."""
        value = self._data.get(key)
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.fault(key, "is no list of texts")
        return tuple(value)

    def numbers(self, key: str, count: int, most: float = ANY) -> tuple[float, ...]:
        """A list of so many numbers that must be there; null stands for one that is not known."""
        return self._row(key, self._data.get(key), count, most)

    def rows(self, key: str, count: int, most: float = ANY) -> tuple[tuple[float, ...], ...]:
        """A list of lists of so many numbers that must be there."""
        value = self._data.get(key)
        if not isinstance(value, list):
            raise self.fault(key, "is missing" if value is None else "is no list")
        return tuple(self._row(key, item, count, most) for item in value)

    def rings(self, key: str) -> tuple[tuple[tuple[float, float], ...], ...]:
        """A list of runs of places (x, y) that must be there [m]."""
        value = self._data.get(key)
        if not isinstance(value, list):
            raise self.fault(key, "is no list of rings")
        found = []
        for ring in value:
            if not isinstance(ring, list):
                raise self.fault(key, "is no list of rings")
            places = [self._row(key, place, 2, PLACE) for place in ring]
            if any(math.isnan(x + y) for x, y in places):
                raise self.fault(key, "holds a place that is not known")
            found.append(tuple((x, y) for x, y in places))
        return tuple(found)

    def scalar(self, key: str) -> float | str | bool:
        """A number, a text, true or false that must be there."""
        value = self._data.get(key)
        if not isinstance(value, int | float | str) or (isinstance(value, float) and not math.isfinite(value)):
            raise self.fault(key, "is no number, text, true or false")
        return value

    def _row(self, key: str, value: Any, count: int, most: float) -> tuple[float, ...]:
        if not isinstance(value, list) or len(value) != count:
            raise self.fault(key, f"is not {count} numbers")
        out = []
        for item in value:
            good = item is None or (isinstance(item, int | float) and not isinstance(item, bool) and abs(item) <= most)
            if not good:
                raise self.fault(key, f"is not {count} numbers that a plan can hold")
            out.append(math.nan if item is None else float(item))
        return tuple(out)

    def some(self, key: str, read: Callable[[PlanRecord], Value]) -> Value | None:
        """What a record says, None where there is none."""
        return None if self._data.get(key) is None else read(self.inside(key))
