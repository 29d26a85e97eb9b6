"""Time to read an invented distributor's list of growing length, beside a bare pass over the same text by `csv`.

Run with `python benchmarks/offers.py`. Every row is parsed: order code, package letters, price breaks, stock, lead
time. Compare the ratios of one run: the last column should stay level, for the work is one pass over the rows.
"""

from __future__ import annotations

import csv
import random
import sys
import tempfile
import time
from pathlib import Path

from landwise.fabdata.offerlists import read_offers

FAMILIES = ("HC", "HCT", "LVC", "AHC", "LV", "ACT", "ABT", "LS")
NUMBERS = ("00", "04", "08", "14", "32", "74", "125", "138", "157", "244", "245", "273", "373", "541", "573", "595")
LETTERS = ("D", "DR", "PW", "PWR", "DB", "DBR", "N", "DW", "DWR", "NSR", "RGYR", "BQAR")
HEAD = ("MPN", "Manufacturer", "Description", "Package", "Stock", "MOQ", "1", "100", "1000", "Lead Time", "Status")


def invented(rows: int, path: Path, seed: int = 1) -> Path:
    """A list of so many rows, of which one in four is no logic."""
    dice = random.Random(seed)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(HEAD)
        for at in range(rows):
            logic = at % 4 != 3
            code = (
                f"SN74{dice.choice(FAMILIES)}{dice.choice(NUMBERS)}{dice.choice(LETTERS)}-{at}" if logic else f"RC{at}K"
            )
            price = dice.uniform(0.05, 2)
            prices = [f"{price * share:.4f}" for share in (1, 0.7, 0.5)]
            writer.writerow(
                [code, f"maker {at % 7}", "gate", "", dice.randrange(90_000), 1, *prices, f"{at % 20} weeks", "Active"]
            )
    return path


def main() -> None:
    """Print the table."""
    counts = (1_000, 10_000) if "--quick" in sys.argv else (1_000, 10_000, 100_000)
    print("rows     offers   seconds  bare csv  ratio  µs a row   (seconds of processor time)")
    with tempfile.TemporaryDirectory() as folder:
        for rows in counts:
            path = invented(rows, Path(folder) / f"{rows}.csv")
            start = time.process_time()
            with path.open(encoding="utf-8", newline="") as file:
                sum(1 for _ in csv.reader(file))
            bare = time.process_time() - start
            start = time.process_time()
            found = read_offers(path)
            seconds = time.process_time() - start
            print(
                f"{rows:>7} {len(found.offers):>8} {seconds:>9.3f} {bare:>9.3f} {seconds / bare:>6.0f}"
                f" {seconds / rows * 1e6:>9.1f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
