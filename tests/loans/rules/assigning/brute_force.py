"""Every way to give columns to rows, tried one by one: written apart from the program, for a few rows and columns."""

from collections.abc import Iterator

NEVER = -1


def ways(points: list[list[int]], taken: frozenset[int] = frozenset(), row: int = 0) -> Iterator[tuple[int, ...]]:
    """Yield each assignment as the rows' columns, -1 for a row left without."""
    if row == len(points):
        yield ()
        return
    for rest in ways(points, taken, row + 1):
        yield (-1, *rest)
    for column, figure in enumerate(points[row]):
        if figure != NEVER and column not in taken:
            for rest in ways(points, taken | {column}, row + 1):
                yield (column, *rest)


def worth(points: list[list[int]], without: list[int], way: tuple[int, ...]) -> tuple[int, int, int]:
    """Return rows left without, their points, and the points of the pairs; the first figure counts first."""
    left = [row for row, column in enumerate(way) if column == -1]
    pairs = sum(points[row][column] for row, column in enumerate(way) if column != -1)
    return len(left), sum(without[row] for row in left), pairs


def best_ways(points: list[list[int]], without: list[int]) -> tuple[tuple[int, int, int], set[tuple[int, ...]]]:
    """Return the best worth there is and every way that has it."""
    found = {way: worth(points, without, way) for way in ways(points)}
    best = min(found.values())
    return best, {way for way, value in found.items() if value == best}
