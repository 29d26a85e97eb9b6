"""Time of the placement check for invented boards of growing size, filled to several shares of their room.

Run with `python benchmarks/packing.py`. The work is bounded by counts, so the time grows with the parts until the
bound is met; compare the rows, not the seconds.
"""

from __future__ import annotations

import random
import sys
import time

from landwise.choosing.packing import Item, Keepout, Rect, Room, check_packing


def invented(parts: int, share: float, *, sides: int = 1, seed: int = 1) -> tuple[list[Item], Room]:
    """Courtyards as of logic parts from 1 to 13 mm, one in twelve under a thinner foil, on a board of 3 by 2."""
    dice = random.Random(seed)
    items = []
    for n in range(parts):
        x, y = (round(1000 * dice.lognormvariate(1.2, 0.6)) + 800 for _ in range(2))
        items.append(Item(f"U{n + 1}", x, y, foil=int(n % 12 == 0)))
    area = sum(item.area for item in items) / share / sides
    length, width = round((1.5 * area) ** 0.5), round((area / 1.5) ** 0.5)
    hole = round(0.03 * width)
    room = Room(
        length,
        width,
        sides=sides,
        gaps=((0, 1, 700),),
        keepouts=(
            Keepout("hole", Rect(0, 0, hole, hole)),
            Keepout("hole", Rect(length - hole, width - hole, length, width)),
        ),
    )
    return items, room


def main() -> None:
    """Print the table."""
    print("parts sides  share  answer          seconds  trials  branches   (seconds of processor time)")
    counts = (5, 8, 12, 20, 50, 100, 300) if "--quick" in sys.argv else (5, 8, 12, 20, 50, 100, 300, 1000, 2000)
    for parts in counts:
        for share, sides in ((0.6, 1), (0.8, 1), (0.9, 1), (0.96, 1), (0.8, 2), (1.02, 1)):
            items, room = invented(parts, share, sides=sides)
            start = time.process_time()
            answer = check_packing(items, room)
            seconds = time.process_time() - start
            print(
                f"{parts:>5} {sides:>5} {answer.share:>6.0%}  {answer.verdict:<13} {seconds:>9.3f} {answer.trials:>7} "
                f"{answer.nodes:>9}",
                flush=True,
            )


if __name__ == "__main__":
    main()
