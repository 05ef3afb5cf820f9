"""Fittings of a place in; their words out. One phrase a language for schedule, map, record and findings."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from siteplan.books.phrases import Language, phrase
from siteplan.values.laid_pipe import Fitting, FittingKind

_TURNS = (FittingKind.BEND, FittingKind.TURNED_PAIR)


def fitting_words(fittings: Sequence[Fitting], language: Language = "english") -> str:
    """How a place of a line is made.

    Parameters
    ----------
    fittings : sequence of Fitting
        What stands there.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        Empty where nothing does.

    Examples
    --------
    >>> forty = Fitting(kind=FittingKind.BEND, angle=45.0)
    >>> fitting_words((forty, forty, Fitting(kind=FittingKind.CLEANOUT)))
    'two 45s + cleanout'
    >>> fitting_words((Fitting(kind=FittingKind.WYE, angle=90.0), forty))
    'wye, turned in by 45 (90 degrees)'
    """
    branch = next((one for one in fittings if one.kind is FittingKind.WYE and one.angle is not None), None)
    if branch is None:
        return " + ".join(_parts(fittings, language))
    rest = [one for one in fittings if one is not branch]
    turns = _parts([one for one in rest if one.kind in _TURNS], language)
    others = _parts([one for one in rest if one.kind not in _TURNS], language)
    made = " + ".join(turns) or phrase("fitting.joints", language)
    return " + ".join([phrase("fitting.wye_turned", language, made=made, angle=f"{branch.angle:.0f}"), *others])


def made_by_several(fittings: Sequence[Fitting]) -> bool:
    """Whether more than one fitting makes the turn at a place; a wye beside a bend does not count.

    Parameters
    ----------
    fittings : sequence of Fitting
        What stands there.

    Returns
    -------
    bool
        True for two bends, a turned pair, a branch that is turned in before its wye.

    Examples
    --------
    >>> forty = Fitting(kind=FittingKind.BEND, angle=45.0)
    >>> made_by_several((forty, forty)), made_by_several((forty, Fitting(kind=FittingKind.WYE)))
    (True, False)
    """
    if any(
        one.kind is FittingKind.TURNED_PAIR or (one.kind is FittingKind.WYE and one.angle is not None)
        for one in fittings
    ):
        return True
    return sum(one.kind is FittingKind.BEND for one in fittings) > 1


def turns_made(fittings: Sequence[Fitting]) -> str:
    """The bends and wyes of a place: what is neither a cleanout nor a mere change of grade.

    Parameters
    ----------
    fittings : sequence of Fitting
        What stands there.

    Returns
    -------
    str
        As `fitting_words`; empty where there are none.
    """
    return fitting_words([one for one in fittings if one.kind not in {FittingKind.CLEANOUT, FittingKind.GRADE_BREAK}])


def _parts(fittings: Sequence[Fitting], language: Language) -> list[str]:
    out = []
    for one, group in itertools.groupby(fittings):
        count = len([*group])
        if one.kind is FittingKind.BEND:
            angle = f"{one.angle or 0.0:g}"
            out += [phrase("fitting.two", language, angle=angle)] * (count // 2)
            out += [phrase("fitting.bend", language, angle=angle)] * (count % 2)
        elif one.kind is FittingKind.TURNED_PAIR:
            out += [phrase("fitting.turned_pair", language, angle=f"{one.angle or 0.0:.0f}")] * count
        else:
            out += [phrase(f"fitting.{one.kind.value}", language)] * count
    return out
