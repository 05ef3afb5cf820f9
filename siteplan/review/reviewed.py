"""One finding of a review: the rule or part, whom it speaks of, status, place, words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from siteplan.errors import InputError, InputErrors
from siteplan.values.told import Status

Value = TypeVar("Value")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reviewed:
    """A comment of the reviewer."""

    rule: str
    subject: str
    status: Status
    where: str
    message: str


def finding(rule: str, subject: str, status: Status, message: str, where: str = "") -> Reviewed:
    """A comment.

    Parameters
    ----------
    rule, subject : str
        Rule or part, and the id of what it speaks of.
    status : str
        pass, flag or fail.
    message, where : str
        Words and place.

    Returns
    -------
    Reviewed
        The comment.
    """
    return Reviewed(rule=rule, subject=subject, status=status, where=where, message=message)


def made_or_why(work: Callable[[], Value]) -> tuple[Value | None, str]:
    """What a stranger's figures may break: the result, or why there is none.

    Parameters
    ----------
    work : callable
        What is to be worked out.

    Returns
    -------
    tuple of value or None, and str
        The reason is empty where there is a result.
    """
    from pyproj.exceptions import ProjError
    from shapely.errors import ShapelyError

    try:
        return work(), ""
    except (InputError, InputErrors) as error:
        return None, str(error)
    except (
        ArithmeticError,
        ValueError,
        LookupError,
        AssertionError,
        TypeError,
        AttributeError,
        ShapelyError,
        ProjError,
    ) as error:
        return None, f"{type(error).__name__}: {error}"[:200]
