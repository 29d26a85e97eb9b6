"""Write `strength.md`: pull and push of small logic packages side by side, with what gives first.

Run from anywhere: `python docs/make_strength_table.py`. `--check` only says whether the page is up to date.
"""

from __future__ import annotations

import sys
from pathlib import Path

from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.service.bands import Band
from landwise.service.strength import PUSH_LIMIT_N, Strength, strength

PAGE = Path(__file__).parent / "strength.md"
GROUPS = (
    (
        "A single gate",
        (
            "SOT-23-5",
            "SC-70-5",
            "SOT-5x3-5",
            "SON-6-1.45x1.0",
            "SON-6-1.0x1.0",
            "SON-5-0.8x0.8",
            "WLP-5-0.5",
            "WLP-5-0.4",
        ),
    ),
    ("A dual gate in eight terminals", ("SO-8", "TSSOP-8", "VSSOP-8", "DFN-8-2x2", "SON-8-1.95x1.0", "WLP-8-0.5")),
    ("A quad gate", ("DIP-14", "SO-14", "TSSOP-14", "TVSOP-14", "QFN-14-2.5x3", "QFN-14-3.5x3.5")),
    ("A wide bus", ("SSOP-48", "TSSOP-48", "TVSOP-48", "BGA-56-0.65")),
)

HEAD = """# How hard packages hold

Written by `docs/make_strength_table.py`; do not edit. On a 100 µm foil and landwise's own lands.

Loads at which a mounted part comes off, straight up and from its weaker side at half its height, at 0.5 mm/s and
20 °C. They are computed from the joints' areas, a solder's shear strength measured at two temperatures and its
growth with speed. **No test of whole small parts could be found to hold them against, and no recognised limit
exists**; the push is set beside the {limit:g} N of the usual push test. Compare, don't predict.

The trade says (common practice, no source) that flush leadless parts hold better than small leaded ones and that ball
arrays are weak. The tables show when that is so, and why:

- A formed lead is pulled off from its heel. Only the solder within a lead thickness or three of the heel resists, so
  most of a small foot's area does no work. Under a flush terminal all of the solder pulls at once.
- A thermal pad doubles or triples a leadless part's joint. Nothing leaded of its size comes near.
- A ball touches the board on its land only, a tenth to a quarter of the body's area, and the body's height works as a
  lever when it is pushed.
- **Not so**: without a thermal pad the leadless part has little area too. A larger leaded body (five leads of 0.95 mm
  pitch) holds better than the tiny leadless one of its function. And leads fold: a leaded part that has been pushed
  stands crooked but is still soldered, where a flush part is off. A grid of many balls pulls harder than leaded bus
  parts as far as solder goes; but its lands must bear 50 MPa then, ten times what leads ask of theirs, and craters
  under lands are how such grids come off (common practice, no source).
"""


def of(name: str) -> Strength:
    """Strength on our own lands and a 100 µm foil."""
    outline = find(name)
    pattern = land_pattern(outline)
    return strength(outline, pattern, print_part(pattern, Foil(100), outline=outline))


def main(argv: list[str]) -> int:
    """Write the page, or compare it."""
    page = _page()
    if "--check" in argv:
        same = PAGE.is_file() and PAGE.read_text(encoding="utf-8") == page
        print("up to date" if same else "strength.md is stale: run docs/make_strength_table.py")
        return 0 if same else 1
    PAGE.write_text(page, encoding="utf-8")
    return 0


def _page() -> str:
    lines = [HEAD.format(limit=PUSH_LIMIT_N)]
    for title, names in GROUPS:
        lines += [
            f"## {title}",
            "",
            "| package | joint mm² | of the body | pull N | gives first | push N | gives first | land must bear MPa |",
            "|---|---|---|---|---|---|---|---|",
        ]
        for name in names:
            found = of(name)
            lines.append(
                f"| {name} | {found.area_mm2:.2f} | {found.share:.0%} | {_band(found.pull_n)} | {found.pull_link} "
                f"| {_band(found.push_n)} | {found.push_link} | {found.land_stress_mpa:.0f} |"
            )
        lines.append("")
    return "\n".join(lines)


def _band(band: Band) -> str:
    return f"{band.value:.3g} ({band.low:.3g}…{band.high:.3g})"


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
