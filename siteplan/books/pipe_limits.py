"""Least grade and cover by class and size of pipe: a rule and a pipe in, the row that holds and its limit out."""

from __future__ import annotations

import csv
from functools import cache
from importlib import resources
from typing import NamedTuple

from siteplan import units
from siteplan.values.laid_pipe import Pipe


class PipeLimit(NamedTuple):
    """One row. `limit` is SI: a ratio for grades, metres for covers.

    It holds for bores over `over` up to `upto` [m].
    """

    rule: str
    kinds: tuple[str, ...]  # of pipe; empty: every kind
    over: float
    upto: float
    limit: float
    source: str
    basis: str  # read | memory


@cache
def pipe_limits() -> tuple[PipeLimit, ...]:
    """Every row of the book, in its order.

    Returns
    -------
    tuple of PipeLimit
        Each with its source.
    """
    text = (resources.files("siteplan.books") / "pipe_limits.csv").read_text("utf-8")
    factors = {**units.GRADE, **units.LENGTH}
    return tuple(
        PipeLimit(
            row["rule"], tuple(row["kinds"].split()), float(row["over_in"]) * units.INCH,
            float(row["to_in"] or "inf") * units.INCH, float(row["limit"]) * factors[row["unit"]], row["source"], row["basis"],
        )
        for row in csv.DictReader(text.splitlines())
    )  # fmt: skip


def limit_of(rule: str, pipe: Pipe) -> PipeLimit | None:
    """The strictest row of a rule that holds for a pipe.

    Parameters
    ----------
    rule : str
        Id of a rule that has rows.
    pipe : Pipe
        By its kind and inside.

    Returns
    -------
    PipeLimit or None
        None where no row speaks of it.
    """
    rows = [
        one
        for one in pipe_limits()
        if one.rule == rule and (not one.kinds or pipe.kind in one.kinds) and one.over < pipe.bore <= one.upto
    ]
    return max(rows, key=lambda one: one.limit, default=None)
