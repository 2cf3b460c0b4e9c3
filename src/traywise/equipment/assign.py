"""The cheapest one-to-one assignment of rows to columns (the Hungarian method)."""

from __future__ import annotations

from collections.abc import Sequence


def assign(costs: Sequence[Sequence[int]]) -> list[int]:
    """For every row the column it takes; the sum of costs is least, no column serves twice.

    costs   rows × columns, whole numbers, at least as many columns as rows
    source  shortest augmenting paths with potentials (Kuhn 1955, Munkres 1957)

    >>> assign([[0, 9], [0, 3]])
    [0, 1]
    """
    width = len(costs[0]) if costs else 0
    row_potential = [0] * (len(costs) + 1)
    column_potential = [0] * (width + 1)
    taken_by = [0] * (width + 1)  # row (from 1) of each column (from 1); 0: free
    for row in range(1, len(costs) + 1):
        _augment(costs, row, row_potential, column_potential, taken_by)
    found = [0] * len(costs)
    for column in range(1, width + 1):
        if taken_by[column]:
            found[taken_by[column] - 1] = column - 1
    return found


def _augment(
    costs: Sequence[Sequence[int]],
    row: int,
    row_potential: list[int],
    column_potential: list[int],
    taken_by: list[int],
) -> None:
    """Give one more row a column along the cheapest path, moving others if need be."""
    width = len(taken_by) - 1
    far = 10**12
    least = [far] * (width + 1)
    came_from = [0] * (width + 1)
    done = [False] * (width + 1)
    taken_by[0] = row
    column = 0
    while taken_by[column]:
        done[column] = True
        here, step, nearest = taken_by[column], far, 0
        for other in range(1, width + 1):
            if done[other]:
                continue
            reduced = costs[here - 1][other - 1] - row_potential[here] - column_potential[other]
            if reduced < least[other]:
                least[other], came_from[other] = reduced, column
            if least[other] < step:
                step, nearest = least[other], other
        for other in range(width + 1):
            if done[other]:
                row_potential[taken_by[other]] += step
                column_potential[other] -= step
            else:
                least[other] -= step
        column = nearest
    while column:
        taken_by[column] = taken_by[came_from[column]]
        column = came_from[column]
