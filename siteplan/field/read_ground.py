"""A line's record in plan.json in; its reaches, the ground under it and its forecast out, as they stand there."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, get_args

from siteplan.values import BellyForecast, BellyUnknown, Pipe, PipeChoice, Pool, Reach, SleevePipe, SoftGround

if TYPE_CHECKING:
    from siteplan.field.read_plan import _Reader as Record


def read_ground(one: Record) -> dict[str, Any]:
    """What a line's record says of pipe and ground, as fields of Line.

    Parameters
    ----------
    one : Record
        The line's record.

    Returns
    -------
    dict
        Of reaches, soft, held, belly, belly_unknown, ground_notes those that stand there; a plan of an older version names none.

    Raises
    ------
    InputError
        If a part cannot be read: which part.
    """
    found: dict[str, Any] = {}
    if one.get("reaches") is not None:
        found["reaches"] = tuple(_reach(item) for item in one.records("reaches"))
    if one.get("soft_ground") is not None:
        found["soft"] = tuple(_soft(item) for item in one.records("soft_ground"))
    if one.get("held") is not None:
        held = one.texts("held")
        if len(held) != 2 or not set(held) <= {"fixed", "guided", "free"}:
            raise one.fault("held", "is not two of fixed, guided and free")
        found["held"] = held
    if one.get("belly") is not None:
        found["belly"] = _belly(one.inside("belly"))
    why = one.get("belly_unknown")
    if why is not None:
        if why not in get_args(BellyUnknown):
            raise one.fault("belly_unknown", f"is none of {', '.join(get_args(BellyUnknown))}")
        found["belly_unknown"] = why
    if one.get("ground_notes") is not None:
        found["ground_notes"] = one.texts("ground_notes")
    return found


def _pipe(one: Record) -> Pipe:
    from siteplan.books.pipes import catalogue

    kind, nominal = one.text("kind"), one.text("nominal")
    own = next((pipe for pipe in catalogue() if (pipe.kind, pipe.nominal) == (kind, nominal)), None)
    od, bore = one.number("od_m"), one.number("id_m")
    return Pipe(
        kind=kind, title=one.text_or("title", kind), nominal=nominal, od=od, bore=bore, wall=one.maybe("wall_m") or (od - bore) / 2,
        roughness=own.roughness if own else math.nan, source=one.text_or("source"),
    )  # fmt: skip


def _reach(one: Record) -> Reach:
    round_it = None
    if one.get("sleeve") is not None:
        told = one.inside("sleeve")
        round_it = SleevePipe(
            pipe=_pipe(told.inside("pipe")), station_from=told.number("station_from"), station_to=told.number("station_to"),
            above=told.number("top_above_pipe"), play=told.number("play"),
        )  # fmt: skip
    return Reach(
        station_from=one.number("station_from"), station_to=one.number("station_to"), place=one.text("place"), pipe=_pipe(one.inside("pipe")),
        why=one.text_or("why"), bedding=one.text_or("bedding"), side_fill=one.text_or("side_fill", "hand_tamped"),
        cover_min=one.known("cover_min"), coupling=one.text_or("coupling"), vehicle=one.text_or("vehicle"), sleeve=round_it,
        choices=tuple(
            PipeChoice(
                kind=item.text("kind"), nominal=item.text("nominal"), title=item.text_or("title", item.text("kind")),
                passes=item.yes("passes", other=False), cost=item.known("cost"), why=item.text_or("why"),
            )
            for item in one.records("choices")
        ),
    )  # fmt: skip


def _soft(one: Record) -> SoftGround:
    return SoftGround(
        station_from=one.number("station_from"), station_to=one.number("station_to"), what=one.text_or("what"),
        modulus=_rising(one, "modulus_pa"), drop=_rising(one, "settlement"), loose=one.maybe("loose") or 0.0,
        certain=one.yes("certain", other=True),
    )  # fmt: skip


def _three(one: Record, key: str) -> tuple[float, float, float]:
    value = one.get(key)
    good = isinstance(value, list) and len(value) == 3
    if not good or not all(isinstance(v, int | float) and not isinstance(v, bool) and abs(v) < 1e12 for v in value):
        raise one.fault(key, "is not three numbers")
    low, likely, high = (float(v) for v in value)
    return low, likely, high


def _rising(one: Record, key: str) -> tuple[float, float, float]:
    low, likely, high = _three(one, key)
    if not 0 <= low <= likely <= high:
        raise one.fault(key, "does not rise from 0: low, likely, high")
    return low, likely, high


def _belly(one: Record) -> BellyForecast:
    return BellyForecast(
        depth=_three(one, "depth"), length=_three(one, "length"),
        pools=tuple(
            Pool(station_from=p.number("station_from"), station_to=p.number("station_to"), depth=p.number("depth"))
            for p in one.records("pools")
        ),
        stress=one.maybe("stress_share"), turn=one.number("joint_turn_deg"), turn_limit=one.maybe("joint_turn_limit_deg"),
        risk=one.yes("risk", other=False), decides=one.text_or("decides"), mends=one.texts("mends"), statements=one.texts("statements"),
    )  # fmt: skip
