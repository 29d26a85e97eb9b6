"""Processor time of one equilibrium of each kind of joint, beside a plainer way to the same number in the same run.

    python benchmarks/joints.py

Compare the ratios: the milliseconds are those of one machine under its load of the moment.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Row:
    """One measurement: ours and the plainer way, in ms for one joint, and the target."""

    title: str
    ms: float
    beside: str
    beside_ms: float
    target_ms: float | None


def timed(work: Callable[[], object], count: int = 1, repeats: int = 3) -> float:
    """Best of some runs, in ms of processor time for each of `count` results."""
    best = math.inf
    for _ in range(repeats):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best * 1e3 / count


def rows() -> list[Row]:
    """All measurements."""
    from landwise.joints.ball import ball_joint
    from landwise.joints.gullwing import Foot, fillet_volumes, gullwing_fillet
    from landwise.joints.pad import Faces, Molten, _equilibria, held_joint, pad_joint
    from landwise.joints.padtable import table_force

    count = 2000
    volumes = math.pi / 6 * np.linspace(0.25, 0.35, count) ** 3
    few = volumes[:: count // 4]
    ball = timed(lambda: ball_joint(volumes, 0.25, 0.25, load_n=1e-6), count)
    alone = timed(lambda: [ball_joint(v, 0.25, 0.25, load_n=1e-6) for v in few], len(few), 1)
    pad_joint(Faces(0.60, 0.25, 0.40, 0.24), 0.008)
    pads = [(0.60, 0.25, 0.40, 0.24, 0.008), (0.77, 0.29, 0.40, 0.25, 0.012), (0.40, 0.25, 0.40, 0.25, 0.005)]
    pad = timed(lambda: [pad_joint(Faces(*p[:4], offset_mm=(p[2] - p[0]) / 2), p[4]) for p in pads], len(pads))
    fine = timed(
        lambda: _equilibria(
            Faces(0.77, 0.29, 0.40, 0.25, -0.185), 0.012, ((32, 6), (64, 12), (128, 24)), gravity=0.145
        ),
        1,
        1,
    )
    point = (1.4, 0.85, 1.1, 0.1, 0.18, 0.9)
    table = timed(lambda: [table_force(*point) for _ in range(200)], 200)
    held = timed(
        lambda: held_joint(Faces(2.6, 1.0, 1.4, 0.85, offset_mm=0.5), 0.468, 0.162, molten=Molten(tension_n_m=1e3))
    )
    foot = Foot(0.60, 0.24, 0.14, toe_mm=0.45, heel_mm=0.45, side_mm=(0.1, 0.1))

    def fillets() -> None:
        gullwing_fillet.cache_clear()
        fillet_volumes.cache_clear()
        for volume in np.linspace(0.01, 0.06, 20):
            gullwing_fillet(foot, float(volume))

    return [
        Row("ball joint, batch of 2000", ball, "one at a time", alone, 0.5),
        Row("flat-land joint, three meshes", pad, "meshes to 128 × 24", fine, 300.0),
        Row("edge joint from the table", table, "held joint, two meshes", held, None),
        Row("gull-wing fillet", timed(fillets, 20), "flat-land joint", pad, None),
    ]


def main() -> None:
    """Print the table."""
    print(f"{'joint':<30} {'ms':>9}  {'beside':<24} {'ms':>9} {'ratio':>8}  target")
    for row in rows():
        target = f"{row.target_ms:g} ms" if row.target_ms else ""
        ratio = row.beside_ms / row.ms
        print(f"{row.title:<30} {row.ms:>9.3f}  {row.beside:<24} {row.beside_ms:>9.3f} {ratio:>7.1f}×  {target}")


if __name__ == "__main__":
    main()
