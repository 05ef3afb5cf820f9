"""Processes that die, are renewed, and end with the one that began them."""

from __future__ import annotations

from siteplan.pool.processes import Died, by_processes

PID = "__import__('os').getpid()"
DIES = "__import__('os')._exit(9)"


def test_a_piece_under_which_its_process_dies_harms_no_other():
    told = dict(by_processes(eval, ["1 + 1", DIES, "2 + 2", "3 + 3"], 2))
    assert told == {"1 + 1": 2, "2 + 2": 4, "3 + 3": 6, DIES: Died(2)}


def test_a_process_is_renewed_after_so_many_pieces():
    told = list(by_processes(eval, [f"{PID} + 0 * {k}" for k in range(4)], 1, renewed_after=2))
    assert [told[0][1] == told[1][1], told[1][1] == told[2][1], told[2][1] == told[3][1]] == [True, False, True]


def test_pieces_are_taken_when_somebody_is_free():
    taken = []

    def pieces():
        for k in range(6):
            taken.append(k)
            yield f"{k}"

    for _, given in by_processes(eval, pieces(), 0):
        assert taken[-1] == given
