"""Pieces of work in; what each gave out, as it is done, from processes of this machine that are renewed now and then.

Each process is a pool of one of the standard library's, so that the death of one names the piece of work that it had in
hand and harms no other. A process is renewed after some pieces: what a library forgets to give back is given back then,
and memory stays bounded.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import connection, get_context, parent_process
from typing import Generic, TypeVar, cast

RENEWED_AFTER = 64  # pieces of work
_TRIES = 2  # of a piece whose process died: the first time another program may have ended it
Task = TypeVar("Task")
Given = TypeVar("Given")


@dataclass(frozen=True, slots=True)
class Died:
    """The processes that a piece of work was given to ended under it, each time it was tried."""

    times: int


@dataclass(slots=True)
class _Desk(Generic[Task, Given]):
    """One process and what it has in hand."""

    executor: ProcessPoolExecutor
    task: Task | None = None
    tries: int = 0
    done: int = 0


def usual_workers() -> int:
    """Processes that this machine may run at once.

    Returns
    -------
    int
        At least 1; the cores that this process may use, where the system says.
    """
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return max(1, os.cpu_count() or 1)


def by_processes(
    work: Callable[[Task], Given], tasks: Iterable[Task], workers: int, *, renewed_after: int = RENEWED_AFTER
) -> Iterator[tuple[Task, Given | Died]]:
    """Do every piece of work, so many at a time.

    Parameters
    ----------
    work : callable
        A function of a module.
    tasks : iterable
        Taken one by one, when a process is free: never all at once.
    workers : int
        Processes; 0: all is done here, one after the other.
    renewed_after : int
        Pieces after which a process is ended and another begun.

    Yields
    ------
    tuple
        A piece of work and what it gave, in the order in which they are done; `Died` where its process ended under it
        twice.
    """
    if workers == 0:
        for one in tasks:
            yield one, work(one)
        return
    left = iter(tasks)
    desks: list[_Desk[Task, Given]] = []
    running: dict[Future[Given], _Desk[Task, Given]] = {}
    try:
        for first in left:
            desks.append(_Desk(_process()))
            running[_give(desks[-1], work, first)] = desks[-1]
            if len(desks) == workers:
                break
        while running:
            done, _ = wait(running, return_when=FIRST_COMPLETED)
            for future in done:
                desk = running.pop(future)
                task = cast("Task", desk.task)
                try:
                    given: Given | Died = future.result()
                except BrokenProcessPool:
                    _renew(desk)
                    if desk.tries < _TRIES:
                        running[_give(desk, work, task, again=True)] = desk
                        continue
                    given = Died(desk.tries)
                if desk.done >= renewed_after:
                    _renew(desk)
                for following in left:
                    running[_give(desk, work, following)] = desk
                    break
                yield task, given
    finally:
        for desk in desks:
            desk.executor.shutdown(wait=not running, cancel_futures=True)


def _give(desk: _Desk[Task, Given], work: Callable[[Task], Given], task: Task, *, again: bool = False) -> Future[Given]:
    desk.task, desk.tries, desk.done = task, desk.tries + 1 if again else 1, desk.done + 1
    try:
        return desk.executor.submit(work, task)
    except BrokenProcessPool:  # it died while it had nothing in hand
        _renew(desk)
        return desk.executor.submit(work, task)


def _renew(desk: _Desk[Task, Given]) -> None:
    desk.executor.shutdown(wait=True, cancel_futures=True)
    desk.executor, desk.done = _process(), 0


def _process() -> ProcessPoolExecutor:
    # begun afresh, not forked: a fork would take along what this process holds, its locks among it
    return ProcessPoolExecutor(max_workers=1, mp_context=get_context("spawn"), initializer=_settle)


def _settle() -> None:
    """What a process does first: it ends with the one that began it, even when that one is killed."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever began it is told, and ends it
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_follow, args=(parent.sentinel,), daemon=True).start()


def _follow(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)
