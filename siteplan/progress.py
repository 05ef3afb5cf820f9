"""How far a long piece of work has come, told to whoever listens. Nothing depends on what is told."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

Listener = Callable[[float, float], None]  # share of the work that may be done, gap over the bound as it is [-]

_LISTENER: ContextVar[Listener | None] = ContextVar("progress", default=None)


@contextmanager
def telling(listener: Listener) -> Iterator[None]:
    """While this is open, work that takes long tells the listener how far it has come.

    Parameters
    ----------
    listener : callable
        Of the share of the work done, 0 to 1, and the gap as it stands.

    Yields
    ------
    None
        Nothing.
    """
    token = _LISTENER.set(listener)
    try:
        yield
    finally:
        _LISTENER.reset(token)


def told(share: float, gap: float) -> None:
    """Tell whoever listens.

    Parameters
    ----------
    share : float
        Of the work that may be done, 0 to 1.
    gap : float
        Of what is found over the bound, infinite where nothing is found yet [-].
    """
    listener = _LISTENER.get()
    if listener is not None:
        listener(share, gap)
