"""How often calibration's 90 % intervals hold what is true: 300 invented lines; and how long many rows take.

Run with `python benchmarks/calibration.py [RUNS [ROWS]]`. Lines are drawn from the shipped prior.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))
from invented_lines import InventedLine, deposits, export
from landwise.assembly.calibration import Fitted, fit_print
from landwise.assembly.scatter import default_terms
from landwise.fabdata.inspection import read_inspection


def coverage(runs: int) -> dict[str, float]:
    """Share of runs in which each interval holds the true value."""
    held: dict[str, list[bool]] = {}
    rng = np.random.default_rng(11)
    terms = default_terms()
    for seed in range(runs):
        line = InventedLine(
            score=rng.standard_normal(),
            common=float(terms["volume_common"].at(rng.standard_normal())),
            print_mm=0.01 * float(np.exp(0.3 * rng.standard_normal())),
            part_um=float(terms["print_stretch"].at(rng.standard_normal())),
            turn_mrad=0.0,
            stretch=0.0,
            ageing=-0.002,
        )
        panel, place, part, values, hours = deposits(line, seed, panels=30)
        found = fit_print(panel, place, values, part=part, hours=hours)
        assert found.transfer is not None
        pairs: list[tuple[str, Fitted | None, float]] = [
            ("transfer, data", found.transfer.data, line.score),
            ("transfer, after", found.transfer.after, line.score),
            ("print offset", found.print_offset_mm, 3 * line.print_mm),
            ("ageing", found.ageing_per_hour, line.ageing),
        ]
        for one, true in zip(found.terms, (line.common, line.part_um), strict=True):
            pairs += [(f"{one.name}, data", one.data, true), (f"{one.name}, after", one.after, true)]
        for name, interval, true in pairs:
            held.setdefault(name, []).append(interval is not None and interval.low <= true <= interval.high)
    return {name: float(np.mean(values)) for name, values in held.items()}


def main() -> None:
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    rows = int(sys.argv[2]) if len(sys.argv) > 2 else 5_000_000
    for name, share in coverage(runs).items():
        print(f"{name:<24} {share:.3f}")
    header, *body = export(InventedLine(), 1, panels=20)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.csv"
        with path.open("w") as file:
            file.write(header + "\n")
            parted = [row.split(",") for row in body]
            told = [(",".join(cells[:10]), float(cells[10]), ",".join(cells[11:])) for cells in parted]
            for k in range(rows // len(body)):
                # Another panel each time: its number, and volumes a little off, so that it is no copy.
                file.writelines(f"{k}{head},{volume + k / 1000:.4f},{rest}\n" for head, volume, rest in told)
        size = path.stat().st_size / 1e6
        before = time.process_time()
        read = read_inspection(path, foil_um=100)
        between = time.process_time()
        fit_print(read.panel, read.place, dict(read.values), part=read.part, hours=read.hours)
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        print(
            f"{read.rows} rows, {size:.0f} MB: read {between - before:.1f} s, fit {time.process_time() - between:.1f} s"
        )
        print(f"of processor; most memory {most:.2f} GB")


if __name__ == "__main__":
    main()
