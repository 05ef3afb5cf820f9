"""A line's record in plan.json in; its reaches, the ground under it and its forecast out, as they stand there."""

from __future__ import annotations

import math
from typing import Any, get_args

from siteplan.stored.record_of import ANY, PlanRecord
from siteplan.values.forecasts import BellyForecast, BellyUnknown, Pool, SoftGround
from siteplan.values.laid_pipe import Bedding, CurbFitting, CurbPiece, Pipe, PipeChoice, SleevePipe
from siteplan.values.lines import Reach

_MOST_HOLES = 20  # as many as a survey may name
_VEHICLES = ("", "car", "truck")


def ground_of_record(one: PlanRecord) -> dict[str, Any]:
    """What a line's record says of pipe and ground, as fields of Line.

    Parameters
    ----------
    one : Record
        The line's record.

    Returns
    -------
    dict
        Of reaches, curb_piece, soft, held, belly, belly_unknown, ground_notes those that stand there; a plan of an
        older version names none.

    Raises
    ------
    InputError
        If a part cannot be read: which part.
    """
    found: dict[str, Any] = {}
    if one.get("reaches") is not None:
        found["reaches"] = tuple(_reach(item) for item in one.records("reaches"))
    found["curb_piece"] = one.some("curb_piece", _curb_piece)
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


def pipe_of_record(one: PlanRecord) -> Pipe:
    """A pipe as its record says.

    Parameters
    ----------
    one : Record
        The pipe's record.

    Returns
    -------
    Pipe
        A plan of an older version states no roughness: then that of the book, NaN where the book has no such pipe.

    Raises
    ------
    InputError
        If a part cannot be read, or a diameter is not above 0.
    """
    kind, nominal = one.text("kind"), one.text("nominal")
    od, bore = one.number("od_m"), one.number("id_m")
    if not (bore > 0 and od > 0):
        raise one.fault("id_m" if od > 0 else "od_m", "is not above 0")
    wall = one.maybe("wall_m")
    return Pipe(
        kind=kind,
        title=one.text_or("title", kind),
        nominal=nominal,
        od=od,
        bore=bore,
        wall=(od - bore) / 2 if wall is None else wall,
        roughness=one.known("manning_n") if one.get("manning_n") is not None else _roughness(kind, nominal),
        source=one.text_or("source"),
    )


def _roughness(kind: str, nominal: str) -> float:
    from siteplan.books.pipes import found

    pipe = found(kind, nominal)
    return math.nan if pipe is None else pipe.roughness


def _reach(one: PlanRecord) -> Reach:
    return Reach(
        station_from=one.number("station_from"),
        station_to=one.number("station_to"),
        place=one.text("place"),
        pipe=pipe_of_record(one.inside("pipe")),
        why=one.text_or("why"),
        bedding=Bedding(one.word("bedding", [*Bedding])),
        cover_min=one.known("cover_min"),
        coupling=one.text_or("coupling"),
        vehicle=one.word("vehicle", _VEHICLES, ""),
        sleeve=one.some("sleeve", _sleeve),
        choices=tuple(
            PipeChoice(
                kind=item.text("kind"),
                nominal=item.text("nominal"),
                title=item.text_or("title", item.text("kind")),
                passes=item.yes("passes", other=False),
                cost=item.known("cost", ANY),
                why=item.text_or("why"),
            )
            for item in one.records("choices")
        ),
    )


def _curb_piece(one: PlanRecord) -> CurbPiece:
    number = one.whole("number")
    if not 1 <= number <= _MOST_HOLES:
        raise one.fault("number", f"is no whole number from 1 to {_MOST_HOLES}")
    fitting = one.get("fitting")
    if fitting not in get_args(CurbFitting):
        raise one.fault("fitting", f"is none of {', '.join(get_args(CurbFitting))}")
    return CurbPiece(
        pipe=pipe_of_record(one.inside("pipe")), number=number, station_to=one.number("station_to"), fitting=fitting
    )


def _sleeve(one: PlanRecord) -> SleevePipe:
    return SleevePipe(
        pipe=pipe_of_record(one.inside("pipe")),
        station_from=one.number("station_from"),
        station_to=one.number("station_to"),
        above=one.number("top_above_pipe"),
        play=one.number("play"),
    )


def _soft(one: PlanRecord) -> SoftGround:
    return SoftGround(
        station_from=one.number("station_from"),
        station_to=one.number("station_to"),
        what=one.text_or("what"),
        modulus=_rising(one, "modulus_pa"),
        drop=_rising(one, "settlement"),
        loose=one.maybe("loose") or 0.0,
        certain=one.yes("certain", other=True),
    )


def _three(one: PlanRecord, key: str) -> tuple[float, float, float]:
    low, likely, high = one.numbers(key, 3)
    if not all(math.isfinite(value) for value in (low, likely, high)):
        raise one.fault(key, "is not three numbers")
    return low, likely, high


def _rising(one: PlanRecord, key: str) -> tuple[float, float, float]:
    low, likely, high = _three(one, key)
    if not 0 <= low <= likely <= high:
        raise one.fault(key, "does not rise from 0: low, likely, high")
    return low, likely, high


def _belly(one: PlanRecord) -> BellyForecast:
    return BellyForecast(
        depth=_three(one, "depth"),
        length=_three(one, "length"),
        pools=tuple(
            Pool(station_from=p.number("station_from"), station_to=p.number("station_to"), depth=p.number("depth"))
            for p in one.records("pools")
        ),
        stress=one.maybe("stress_share", ANY),
        turn=one.number("joint_turn_deg"),
        turn_limit=one.maybe("joint_turn_limit_deg"),
        risk=one.yes("risk", other=False),
        decides=one.text_or("decides"),
        mends=one.texts("mends"),
        statements=one.texts("statements"),
    )
