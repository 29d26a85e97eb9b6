"""Write `outlines/seen.csv` and `costs/price_ratios.csv` from sightings in one assembler's published parts list.

Run from anywhere: `python docs/make_supply.py`, where the references lie beside the project. What is written are facts
and ratios with their counts: no order codes, no stock, no price of any part. `--check` only says whether both files
are up to date; without the references there is nothing to compare with, and it says so.
"""

from __future__ import annotations

import csv
import re
import sys
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np

from landwise.costs.prices import LEVELS, group_of, style_of
from landwise.fabdata.functions import is_little, known, least_terminals, other_logic
from landwise.fabdata.partnumbers import read_number
from landwise.outlines.supply import LARGEST_SPARE

ROOT = Path(__file__).resolve().parents[1]
REFERENCES = ROOT.parent / "shared" / "references"
SEEN = ROOT / "src" / "landwise" / "outlines" / "seen.csv"
RATIOS = ROOT / "src" / "landwise" / "costs" / "price_ratios.csv"
FIRST_SOURCE = "jlcparts 2026-05"
HEAD = (
    "# Derived by docs/make_supply.py from one assembler's published parts list, 21 May 2026 (source offers-2026-05).\n"
)
LEAST_PAIRS = 3  # of prices behind a ratio; fewer are left out
# Price ratios worked part by part (same maker, family, function, plain grade) stand in the reference page; the others
# are ratios of the medians of one function in two packages, over all makers.
PAGE_STYLES = {
    "SO 3.9 mm": ("14", "SO", "TSSOP"),
    "SO wide": ("14", "SO wide", "TSSOP"),
    "SO 5.3": ("14", "SO 5.3", "TSSOP"),
    "SSOP 5.3": ("14", "SSOP", "TSSOP"),
    "TVSOP": ("14", "TVSOP", "TSSOP"),
    "oblong quad, 2.5 mm": ("14", "QFN 2.5", "TSSOP"),
    "oblong quad, 3.5 mm": ("14", "QFN 3.5", "TSSOP"),
    "drilled dual in-line": ("14", "DIP", "SO"),
    "SC-70-5": ("6", "SC-70", "SOT-23"),
    "leadless 1.45 × 1.0": ("6", "SON-6-1.45x1.0", "SOT-23"),
    "leadless 1.0 × 1.0": ("6", "SON-6-1.0x1.0", "SOT-23"),
    "SOT-5x3-5": ("6", "SOT-5x3", "SOT-23"),
    "leadless 0.8 × 0.8": ("6", "SON-5-0.8x0.8", "SOT-23"),
    "wafer-level": ("6", "WLP", "SOT-23"),
}


def terminals_of(package: str) -> int:
    """The count in a package's name."""
    match = re.match(r"(?:SOT-23-THIN|SOT-23|SC-70|SC-74|SOT-5x3|SOT-9x3|[A-Z]+)-(\d+)", package)
    if not match:
        raise ValueError(package)
    return int(match[1])


def rows_of_first_source() -> list[dict[str, str]]:
    """The reference's rows of the source whose facts may be shipped, under our own families and numbers."""
    with (REFERENCES / "offers.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["source"] == FIRST_SOURCE]
    for row in rows:
        row["family"], row["function"] = _ours(row)
    return rows


def _ours(row: dict[str, str]) -> tuple[str, str]:
    """Family and number as our reader gives them for the order code, where it reads one; else as the reference says."""
    reading = read_number(row["order_code"])
    if reading and reading.by == "number" and reading.number:
        family = "4000" if row["family"] == "4000" else reading.family
        return family, reading.number
    return {"none": "TTL"}.get(row["family"], row["family"]), row["function"]


def function_terminals(rows: list[dict[str, str]]) -> dict[tuple[str, str], int]:
    """Terminals of each function: our table's, else those of most of its packages."""
    counts: dict[tuple[str, str], Counter[int]] = defaultdict(Counter)
    for row in rows:
        counts[row["family"], row["function"]][terminals_of(row["package"])] += int(row["sightings"])
    found = {}
    for (family, number), counted in counts.items():
        function = known(number, family) or other_logic().get(number)
        found[family, number] = function.terminals if function and function.terminals else counted.most_common(1)[0][0]
    return found


def seen_text(rows: list[dict[str, str]]) -> str:
    """The table of sightings."""
    terminals = function_terminals(rows)
    sightings: Counter[tuple[str, str, str]] = Counter()
    for row in rows:
        key = row["family"], row["function"]
        counted = terminals_of(row["package"])
        least = least_terminals(row["function"], row["family"], terminals[key])
        if least <= counted <= terminals[key] + LARGEST_SPARE:  # any other count is a misread package
            sightings[*key, row["package"]] += int(row["sightings"])
    lines = [HEAD, "function,family,little,terminals,package,sightings\n"]
    for (family, number, package), count in sorted(sightings.items()):
        lines.append(f"{number},{family},{int(is_little(number))},{terminals[family, number]},{package},{count}\n")
    return "".join(lines)


def ratios_text(rows: list[dict[str, str]]) -> str:
    """The table of price ratios with their counts."""
    terminals = function_terminals(rows)
    prices: dict[tuple[str, str], dict[str, float]] = defaultdict(dict)
    for row in rows:
        if row["price_1k_usd_median"]:
            prices[row["family"], row["function"]].setdefault(row["package"], float(row["price_1k_usd_median"]))
    pairs: dict[tuple[int, str], list[float]] = defaultdict(list)
    for key, by_package in prices.items():
        group = group_of(terminals[key])
        base = [price for package, price in by_package.items() if style_of(package) == LEVELS[group].base]
        for package, price in by_package.items():
            if base and style_of(package) != LEVELS[group].base:
                pairs[group, style_of(package)].append(price / base[0])
    found: dict[tuple[int, str, str], tuple[int, float, float, float, str]] = {}
    for (group, style), values in pairs.items():
        if len(values) >= LEAST_PAIRS:
            low, median, high = np.quantile(values, (0.1, 0.5, 0.9))
            found[group, style, LEVELS[group].base] = (len(values), low, median, high, "same function")
    found |= page_ratios()
    lines = [HEAD, "group,style,against,pairs,low,median,high,paired_by\n"]
    for (group, style, against), (count, low, median, high, how) in sorted(found.items()):
        lines.append(f"{group},{style},{against},{count},{low:.2f},{median:.2f},{high:.2f},{how}\n")
    return "".join(lines)


def page_ratios() -> dict[tuple[int, str, str], tuple[int, float, float, float, str]]:
    """The ratios of the reference page that come with an interval."""
    found = {}
    for line in (REFERENCES / "offers.md").read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) < 3 or cells[0] not in PAGE_STYLES:
            continue
        match = re.match(r"(\d+), ([\d.]+) \[([\d.]+)[–-]([\d.]+)\]", cells[2])
        if match:
            group, style, against = PAGE_STYLES[cells[0]]
            numbers = float(match[3]), float(match[2]), float(match[4])
            found[int(group), style, against] = (int(match[1]), *numbers, "same maker")
    return found


def main(check: bool) -> int:
    if not (REFERENCES / "offers.csv").is_file():
        print("the references are not here: nothing to derive from")
        return 0
    rows = rows_of_first_source()
    stale = []
    for path, text in ((SEEN, seen_text(rows)), (RATIOS, ratios_text(rows))):
        if check:
            if not path.is_file() or path.read_text(encoding="utf-8") != text:
                stale.append(path.name)
        else:
            path.write_text(text, encoding="utf-8")
    if stale:
        print(f"not up to date: {', '.join(stale)}")
    return int(bool(stale))


if __name__ == "__main__":
    sys.exit(main("--check" in sys.argv[1:]))
