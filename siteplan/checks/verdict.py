"""Value, limit, sense and doubt in; one of four answers out. The only place where a check's status is decided."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from siteplan.values.told import Status

Answer = Literal["kept", "broken", "cannot tell", "limit not known"]

KEPT, CANNOT_TELL, BROKEN = 0, 1, 2
_ANSWERS: tuple[Answer, ...] = ("kept", "cannot tell", "broken")


def margins(values: NDArray[np.float64], limit: float, sense: str) -> NDArray[np.float64]:
    """How far each value is on the good side of its limit.

    Parameters
    ----------
    values : ndarray, shape (n,) [any]
        What was found.
    limit : float
        The rule's limit [same unit].
    sense : str
        'at least' or 'at most'.

    Returns
    -------
    ndarray, shape (n,) [same unit]
        Negative where the limit is broken.

    Raises
    ------
    ValueError
        If the sense is neither.
    """
    if sense == "at least":
        return values - limit
    if sense == "at most":
        return limit - values
    raise ValueError(f"sense is {sense!r}, not 'at least' or 'at most'")


def codes(margin: NDArray[np.float64], *, doubt: float, slack: float) -> NDArray[np.int64]:
    """KEPT, CANNOT_TELL or BROKEN for each margin.

    Parameters
    ----------
    margin : ndarray, shape (n,) [any]
        See `margins`; no NaN.
    doubt : float
        One standard deviation of the margin [same unit]; 0 for what is designed and not measured.
    slack : float
        What rounding alone may take from a margin [same unit].

    Returns
    -------
    ndarray of int, shape (n,)
        Past the doubt a limit is kept, short of it by more than the doubt it is broken, between nobody can tell.

    Raises
    ------
    ValueError
        If doubt or slack is below 0.
    """
    if doubt < 0 or slack < 0:
        raise ValueError("doubt and slack are 0 or above")
    kept = margin >= doubt - slack
    broken = margin < -max(doubt, slack)
    return np.where(kept, KEPT, np.where(broken, BROKEN, CANNOT_TELL))


def answer(
    value: float, limit: float | None, sense: str, *, doubt: float = 0.0, slack: float = 0.0
) -> Answer:  # one value of what `codes` says of many
    """The answer for one value.

    Parameters
    ----------
    value : float
        What was found [any].
    limit : float or None
        The rule's limit [same unit]; None: not known.
    sense : str
        'at least' or 'at most'.
    doubt : float
        One standard deviation of the value [same unit].
    slack : float
        What rounding alone may take [same unit].

    Returns
    -------
    str
        'kept', 'broken', 'cannot tell' or 'limit not known'.

    Examples
    --------
    >>> answer(0.31, 0.30, "at least"), answer(0.31, 0.30, "at least", doubt=0.02), answer(0.31, None, "at least")
    ('kept', 'cannot tell', 'limit not known')
    """
    if limit is None:
        return "limit not known"
    margin = margins(np.array([value], np.float64), limit, sense)
    return _ANSWERS[int(codes(margin, doubt=doubt, slack=slack)[0])]


def status(said: Answer, broken: Literal["fail", "flag"]) -> Status:
    """Status that plan.json carries.

    Parameters
    ----------
    said : str
        An answer.
    broken : str
        What breaking the rule means: 'fail' or 'flag'.

    Returns
    -------
    str
        'pass', 'flag' or 'fail'; what cannot be told, and a limit that is not known, are flags.
    """
    if said == "kept":
        return "pass"
    return broken if said == "broken" else "flag"
