"""Pieces of work in; what each gave out, as it is done, from the workers of a running Dask scheduler.

Which worker does what, and what becomes of the work of one that is lost, is the scheduler's business. Only so many
pieces are with it at a time, so that neither it nor this process holds them all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any, TypeVar

from siteplan.errors import InputError
from siteplan.pool.processes import Died

_AHEAD = 3  # pieces with the scheduler for each thread of its workers
_WAIT = 20  # s for the scheduler to answer, and for a first worker
_SCHEMES = {"tcp", "tls", "ws", "wss"}
Task = TypeVar("Task")
Given = TypeVar("Given")


def by_cluster(
    work: Callable[[Task], Given], tasks: Iterable[Task], client: Any
) -> Iterator[tuple[Task, Given | Died]]:
    """Do every piece of work on a cluster.

    Parameters
    ----------
    work : callable
        A function of a module; the workers have the same siteplan installed and see the same files.
    tasks : iterable
        Taken a few at a time.
    client : distributed.Client
        From `connected`; closed at the end.

    Yields
    ------
    tuple
        A piece of work and what it gave, in the order in which they are done; `Died` where the scheduler gave it up
        after several workers were lost under it.
    """
    from distributed import KilledWorker, as_completed

    left = iter(tasks)
    held: dict[str, Task] = {}

    def given(task: Task) -> Any:
        future = client.submit(work, task, pure=False, retries=0)
        held[future.key] = task
        return future

    try:
        ahead = _AHEAD * max(1, sum(client.nthreads().values()))
        waiting = as_completed([given(task) for _, task in zip(range(ahead), left, strict=False)], loop=client.loop)
        for future in waiting:
            task = held.pop(future.key)
            fault = future.exception()
            if fault is not None and not isinstance(fault, KilledWorker):
                raise fault
            for following in left:
                waiting.add(given(following))
                break
            yield task, future.result() if fault is None else Died(_lost(fault))
    finally:
        client.close()


def _lost(fault: Any) -> int:
    return int(getattr(fault, "allowed_failures", 0)) + 1


def connected(address: str) -> Any:
    """A client of a running scheduler that has a worker.

    Parameters
    ----------
    address : str
        Such as 'tcp://127.0.0.1:8786'.

    Returns
    -------
    distributed.Client
        To be given to `by_cluster`.

    Raises
    ------
    InputError
        If the library is not installed, or no scheduler with a worker answers.
    """
    try:
        from distributed import Client
    except ImportError as fault:
        raise InputError(
            "--scheduler",
            "the library distributed is not installed, which speaks to a scheduler",
            (
                'Install it (python -m pip install "siteplan[cluster]"), or leave --scheduler out: the cores of '
                "this machine are used then."
            ),
        ) from fault
    _listens(address)
    try:
        client = Client(address, timeout=_WAIT, set_as_default=False)
    except (OSError, ValueError, TypeError) as fault:
        raise _silent(address) from fault
    try:
        client.wait_for_workers(1, timeout=_WAIT)
    except TimeoutError as fault:
        client.close()
        raise InputError(
            "--scheduler",
            f"the scheduler at {address[:80]!r} has no worker",
            f"Start workers for it (dask worker {address[:80]} --nthreads 1).",
        ) from fault
    return client


def _listens(address: str) -> None:
    """Refuse early what nobody listens at: a client that found nobody would take long to let go."""
    import socket
    from urllib.parse import urlsplit

    try:
        parts = urlsplit(address)
        host, port = parts.hostname, parts.port
        if parts.scheme not in _SCHEMES or not host or not port:
            raise _silent(address)
        socket.create_connection((host, port), timeout=_WAIT / 2).close()
    except InputError:
        raise
    except (OSError, ValueError) as fault:  # UnicodeError is a ValueError: a host that no name can be
        raise _silent(address) from fault


def _silent(address: str) -> InputError:
    return InputError(
        "--scheduler",
        f"no scheduler answers at {address[:80]!r}",
        "Start one (dask scheduler) and give the address that it prints, such as tcp://127.0.0.1:8786.",
    )
