"""Cut the shipped fonts from their full versions, and measure them. Run by hand, never at run time.

    python build_fonts.py SANS_REGULAR SANS_SEMIBOLD MONO_REGULAR

Needs fonttools and brotli. Writes `*.ttf` (for the PDF), `*.woff2` (for HTML) and `advances.json` (for the
layout) beside this file. The subsets are renamed, as the Open Font License asks of changed fonts.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from landwise.untyped import Untyped

HERE = Path(__file__).parent
RANGES = (
    (0x20, 0x7E),  # ASCII
    (0xA0, 0xFF),  # Latin-1
    (0x100, 0x17F),  # Latin Extended-A
    (0x391, 0x3A9),  # Greek capitals
    (0x3B1, 0x3C9),  # Greek small letters
)
SINGLES = "ΔΩµ\u2009\u200a\u202f\u2002\u2003–—‘’“”„•…′″‰€⁰⁴⁵⁶⁷⁸⁹⁻₀₁₂₃₄₅₆₇₈₉−∞≈≠≤≥√∑∂→←↑↓↔●○■□◐½¼¾√⌀∅"
CUT = (
    ("landwise-sans-regular", "Landwise Sans", "Regular", 400),
    ("landwise-sans-semibold", "Landwise Sans", "SemiBold", 600),
    ("landwise-mono-regular", "Landwise Mono", "Regular", 400),
)

MOST_FIELDS = (
    "maxZones",
    "maxTwilightPoints",
    "maxStorage",
    "maxFunctionDefs",
    "maxInstructionDefs",
    "maxStackElements",
    "maxSizeOfInstructions",
    "maxComponentElements",
    "maxPoints",
    "maxContours",
    "maxCompositePoints",
    "maxCompositeContours",
    "maxComponentDepth",
)


def main(sources: list[str]) -> None:
    """Write every cut and the table of advances."""
    advances: dict[str, dict[str, object]] = {}
    for source, (stem, family, style, weight) in zip(sources, CUT, strict=True):
        font = subset(source)
        tabular(font)
        truetype(font)
        rename(font, family, style, weight)
        font.save(HERE / f"{stem}.ttf")
        font.flavor = "woff2"
        font.save(HERE / f"{stem}.woff2")
        em = font["head"].unitsPerEm
        widths = {chr(code): font["hmtx"][name][0] for code, name in font.getBestCmap().items()}
        advances[stem] = {"em": em, "widths": dict(sorted(widths.items()))}
    text = json.dumps(advances, ensure_ascii=True, separators=(",", ":"), sort_keys=True)
    (HERE / "advances.json").write_text(text.replace('},"', '},\n"') + "\n", encoding="utf-8")


def subset(source: str) -> Untyped:
    """The font with our characters and, of its features, only kerning and tabular figures."""
    # fontTools ships no types.
    from fontTools import subset as cutting  # type: ignore[import-untyped]

    # fontTools ships no types.
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    options = cutting.Options()
    options.layout_features = ["kern", "mark", "mkmk", "ccmp", "tnum"]
    options.hinting = False
    options.notdef_outline = True
    options.recalc_timestamp = False
    font = TTFont(source)
    cutter = cutting.Subsetter(options)
    wanted = {code for low, high in RANGES for code in range(low, high + 1)} | {ord(c) for c in SINGLES}
    cutter.populate(unicodes=wanted)
    cutter.subset(font)
    missing = sorted(chr(code) for code in wanted - set(font.getBestCmap()))
    print(Path(source).name, "lacks", " ".join(missing) or "nothing")
    return font


def tabular(font: Untyped) -> None:
    """Make the figures of one width the plain ones, so that columns line up without a feature switch."""
    if "GSUB" not in font:
        return
    table = font["GSUB"].table
    swaps: dict[str, str] = {}
    for record in table.FeatureList.FeatureRecord:
        if record.FeatureTag != "tnum":
            continue
        for index in record.Feature.LookupListIndex:
            for part in table.LookupList.Lookup[index].SubTable:
                swaps.update(getattr(getattr(part, "ExtSubTable", part), "mapping", {}))
    for cmap in font["cmap"].tables:
        for code in range(0x30, 0x3A):
            name = cmap.cmap.get(code)
            if name in swaps:
                cmap.cmap[code] = swaps[name]
    del font["GSUB"]


def truetype(font: Untyped) -> None:
    """Turn cubic outlines into quadratic ones, to a thousandth of the em."""
    if "CFF " not in font:
        return
    # fontTools ships no types.
    from fontTools.pens.cu2quPen import Cu2QuPen  # type: ignore[import-untyped]

    # fontTools ships no types.
    from fontTools.pens.ttGlyphPen import TTGlyphPen  # type: ignore[import-untyped]
    from fontTools.ttLib import newTable

    order, shapes, em = font.getGlyphOrder(), font.getGlyphSet(), font["head"].unitsPerEm
    glyphs = {}
    for name in order:
        pen = TTGlyphPen(shapes)
        shapes[name].draw(Cu2QuPen(pen, em / 1000, reverse_direction=True))
        glyphs[name] = pen.glyph()
    font["loca"], table = newTable("loca"), newTable("glyf")
    font["glyf"] = table
    table.glyphOrder, table.glyphs = order, glyphs
    del font["CFF "]
    if "VORG" in font:
        del font["VORG"]
    for name in order:
        glyph = table[name]
        glyph.recalcBounds(table)
        font["hmtx"][name] = (font["hmtx"][name][0], getattr(glyph, "xMin", 0))
    most = font["maxp"]
    most.tableVersion = 0x00010000
    for field in MOST_FIELDS:
        setattr(most, field, 1 if field == "maxZones" else 0)
    post = font["post"]
    post.formatType, post.extraNames, post.mapping, post.glyphOrder = 2.0, [], {}, order
    font.sfntVersion = "\000\001\000\000"


def rename(font: Untyped, family: str, style: str, weight: int) -> None:
    """Our own name, the authors' notices kept, a fixed time stamp."""
    keep = {record.nameID: record.toUnicode() for record in font["name"].names}
    font["name"].names = []
    plain = style if style == "Regular" else "Regular"
    named = {
        0: keep.get(0, ""),
        1: family if style == plain else f"{family} {style}",
        2: plain,
        3: f"{family} {style} (subset)",
        4: f"{family} {style}",
        5: keep.get(5, "Version 1.0"),
        6: f"{family} {style}".replace(" ", "") if style == plain else f"{family}-{style}".replace(" ", ""),
        13: keep.get(13, ""),
        14: keep.get(14, ""),
        16: family,
        17: style,
    }
    for number, text in named.items():
        font["name"].setName(text, number, 3, 1, 0x409)
    font["OS/2"].usWeightClass = weight
    font["head"].created = font["head"].modified = 3_800_000_000


if __name__ == "__main__":
    main(sys.argv[1:])
