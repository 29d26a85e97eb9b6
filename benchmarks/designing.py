"""Designing the print of an option on a foil, beside working its rates in the same run.

Run with `python benchmarks/designing.py`. Compare the ratios, not the seconds. Target: 0.3 s for an option and foil.
"""

from __future__ import annotations

import time
from dataclasses import replace

from landwise.assembly.partmodel import part_model
from landwise.assembly.partrates import part_rates
from landwise.assembly.scatter import scatter
from landwise.designing import Designer, Line
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part

PARTS = ("SON-5-0.8x0.8", "SON-6-1.0x1.0", "QFN-16-3x3", "QFN-32-4x4", "TSSOP-14", "QFP-48", "WLP-5-0.4", "BGA-56-0.65")
FOILS_UM = (80.0, 100.0, 125.0)


def main() -> None:
    """Print the table."""
    line = Line(scatter(0.03, 0.05))
    Designer(find("SC-70-6"), land_pattern(find("SC-70-6")), line).design(100.0)  # everything is loaded
    print(f"{'outline':<16} {'design, ms':>12} {'rates, ms':>12} {'ratio':>8}   processor, mean of foils")
    whole = [0.0, 0.0]
    for name in PARTS:
        part = find(name)
        lands = land_pattern(part)
        designed = worked = 0.0
        designer = Designer(part, lands, line)
        for um in FOILS_UM:
            start = time.process_time()
            designer.design(um)
            between = time.process_time()
            # Lands of their own: what was kept of the design's is no part of the rates' time.
            own = replace(lands)
            model = part_model(part, own, print_part(own, Foil(um), outline=part), line.scatter)
            assert model is not None
            part_rates(model)
            designed, worked = designed + between - start, worked + time.process_time() - between
        whole = [whole[0] + designed, whole[1] + worked]
        count = len(FOILS_UM)
        print(f"{name:<16} {designed / count * 1e3:12.0f} {worked / count * 1e3:12.0f} {designed / worked:8.1f}")
    count = len(FOILS_UM) * len(PARTS)
    print(f"{'mean':<16} {whole[0] / count * 1e3:12.0f} {whole[1] / count * 1e3:12.0f} {whole[0] / whole[1]:8.1f}")


if __name__ == "__main__":
    main()
