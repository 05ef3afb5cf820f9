"""A function in; out: the same, which remembers what it answered last, by what was asked and not by who asked.

For answers that do not change and questions that are asked again: a line is sampled when it is searched, proven, staked
and judged.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import wraps
from typing import ParamSpec, TypeVar

Asked = ParamSpec("Asked")
Answer = TypeVar("Answer")


def remembered(
    content: Callable[Asked, Hashable], most: int
) -> Callable[[Callable[Asked, Answer]], Callable[Asked, Answer]]:
    """A function's last answers kept.

    Parameters
    ----------
    content : callable
        What the answer depends on, from the arguments; None for a question that is not worth keeping.
    most : int
        Answers kept, the oldest dropped first.

    Returns
    -------
    callable
        Takes the function. Its answers must never be changed by who gets them.
    """

    def keeping(answered: Callable[Asked, Answer]) -> Callable[Asked, Answer]:
        kept: dict[Hashable, Answer] = {}

        @wraps(answered)
        def told(*args: Asked.args, **named: Asked.kwargs) -> Answer:
            key = content(*args, **named)
            if key is None:
                return answered(*args, **named)
            try:
                return kept[key]
            except KeyError:
                found = kept[key] = answered(*args, **named)
            if len(kept) > most:
                kept.pop(next(iter(kept)), None)
            return found

        return told

    return keeping
