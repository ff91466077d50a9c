"""Figures as a small table on the terminal."""

from collections.abc import Sequence

type Cell = str | int | float


def show(title: str, head: Sequence[str], rows: Sequence[Sequence[Cell]]) -> None:
    """Print rows under their title: texts to the left, numbers to the right with three decimals where they have any."""
    lines = [list(head), *([_text(cell) for cell in row] for row in rows)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head))]
    left = [all(isinstance(row[column], str) for row in rows) for column in range(len(head))]
    print(f"\n{title}")
    for line in lines:
        cells = zip(line, widths, left, strict=True)
        print("  " + "  ".join(f"{cell:<{width}}" if to_left else f"{cell:>{width}}" for cell, width, to_left in cells))


def _text(cell: Cell) -> str:
    return f"{cell:.3f}" if isinstance(cell, float) else str(cell)
