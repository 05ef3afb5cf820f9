"""Pieces of work done in; how far all of it has come and how long it will still take, told on the error stream, out."""

from __future__ import annotations

import sys
import time

_EVERY = 10.0  # s between lines where nobody watches a terminal
_OFTEN = 0.5  # s on one
_HOUR, _MINUTE = 3600, 60


class Pace:
    """Tells how far work has come. What is told hangs on the clock, and nothing that is written does.

    Parameters
    ----------
    total : int or None
        Pieces in all; None: not known, only the count is told.
    noun : str
        What a piece is, in the plural.
    """

    def __init__(self, total: int | None, noun: str) -> None:
        self._total, self._noun = total, noun
        self._began = self._said = time.monotonic()
        self._done = self._worked = 0
        self._watched = sys.stderr.isatty()

    def step(self, note: str = "", *, worked: bool = True) -> None:
        """One piece more is done; `note` is told with it.

        What was done before costs no time, and tells nothing of what is left.
        """
        self._done += 1
        self._worked += worked
        now = time.monotonic()
        if now - self._said >= (_OFTEN if self._watched else _EVERY):
            self._said = now
            text = f"{self._count()}{note}{self._left(now)}"
            self._tell(text, last=False)

    def end(self, note: str = "") -> None:
        """All is done: how long it took, and a piece on the average."""
        took = time.monotonic() - self._began
        each = f", {took / self._worked:.2f} s each" if self._worked else ""
        text = f"{self._count()}{note} in {_span(took)}{each}"
        self._tell(text, last=True)

    def _tell(self, text: str, *, last: bool) -> None:
        sys.stderr.write(f"\r{text:<78}{chr(10) if last else ''}" if self._watched else f"{text}\n")
        sys.stderr.flush()

    def _count(self) -> str:
        return f"{self._done} {self._noun}" if self._total is None else f"{self._done} of {self._total} {self._noun}"

    def _left(self, now: float) -> str:
        if self._total is None or not self._worked:
            return ""
        return f", about {_span((now - self._began) / self._worked * (self._total - self._done))} left"


def _span(seconds: float) -> str:
    if seconds >= _HOUR:
        return f"{seconds / _HOUR:.1f} h"
    return f"{seconds / _MINUTE:.0f} min" if seconds >= 2 * _MINUTE else f"{seconds:.0f} s"
