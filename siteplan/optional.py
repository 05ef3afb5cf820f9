"""Parts of a plan that it can do without.

One that fails by a fault of ours is left out and named, and the plan goes on.

A room called by itself, as tests do, has nobody who gathers: there the fault is raised as ever.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeVar

from siteplan.errors import SiteplanError
from siteplan.values.told import MissingPart, PartName

Made = TypeVar("Made")
Other = TypeVar("Other")

_GATHERED: ContextVar[list[MissingPart] | None] = ContextVar("missing parts", default=None)


@contextmanager
def gathering(*, debug: bool = False) -> Iterator[list[MissingPart]]:
    """While this is open, parts that fail are left out and noted.

    Parameters
    ----------
    debug : bool
        True: nothing is left out, every fault is raised.

    Yields
    ------
    list of MissingPart
        Grows as parts fail; each part of each subject stands in it once.
    """
    missing: list[MissingPart] = []
    token = _GATHERED.set(None if debug else missing)
    try:
        yield missing
    finally:
        _GATHERED.reset(token)


def optional(part: PartName, make: Callable[[], Made], instead: Other, subject: str = "") -> Made | Other:
    """A part, or what stands for 'not known' where it cannot be made by a fault of ours.

    Parameters
    ----------
    part : str
        Which part, see `values.PartName`.
    make : callable
        Makes it.
    instead : object
        What the plan goes on with when it fails.
    subject : str
        Id of the line, source or rule that the part is about; '' the whole plan.

    Returns
    -------
    object
        What was made, or `instead`.

    Raises
    ------
    SiteplanError
        What the user's input has wrong is never left out.
    Exception
        Whatever `make` raises, when nobody gathers.
    """
    gathered = _GATHERED.get()
    try:
        return make()
    except SiteplanError:
        raise
    except Exception as fault:
        if gathered is None:
            raise
        missing = MissingPart(part=part, subject=subject, fault=type(fault).__name__)
        if missing not in gathered:
            gathered.append(missing)
        return instead


def is_gathering() -> bool:
    """Whether faults of ours are left out and noted, or raised.

    Returns
    -------
    bool
        False where a room is called by itself, and with --debug.
    """
    return _GATHERED.get() is not None
