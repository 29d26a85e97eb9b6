"""Rates beside plain counting by a path of its own: five parts on the three shipped lines, made worse until it shows.

Run with `python benchmarks/counted.py [ASSEMBLIES]`; a million by default. The counting is that of the tests
(tests/assembly/assembly_counted.py). Columns: both ways, and how far they are apart in standard errors of both.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests" / "assembly"))

from assembly_counted import LINES, LOOSE, Case, apart


def main() -> None:
    """Print the table."""
    assemblies = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    errors = []
    print(f"{'part, line and what':<40} {'worked':>10} {'counted':>10} {'errors':>7}")
    for part in LOOSE:
        for line in LINES:
            for what, (error, worked, counted) in apart(Case(part, line), assemblies, seed=2, asked=0.02).items():
                seen = counted * assemblies >= 15
                errors += [abs(error)] if seen else []
                told = f"{error:7.2f}" if seen else "too few"
                print(f"{f'{part} {line} {what}':<40} {worked:10.3g} {counted:10.3g} {told}", flush=True)
    held = sum(one < 1.645 for one in errors)
    print(f"within 90 % of both: {held} of {len(errors)}; furthest {max(errors):.2f} standard errors")


if __name__ == "__main__":
    main()
