"""Pictures for who teaches or presents: any drawing on a 16:9 page with the speaker's own title, in colour or grey."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from html import escape

from landwise.sheets.lettering import line_mm, shortened
from landwise.sheets.look import LIGHT, MM_PER_PT, SANS, luminance
from landwise.sheets.pdf import if_installed, svg_pdf_bytes, svg_png_bytes, svg_size_mm
from landwise.sheets.svg import number

# The usual wide page of slides, 13.333 by 7.5 inches (common practice, no source). [mm]
SLIDE_MM = (338.667, 190.5)
MARGIN_MM = 10.0
TITLE_PT = 26.0
PNG_DPI = 144.0  # 1920 by 1080 dots


@dataclass(frozen=True)
class Pack:
    """What a speaker asks for: a title over every picture, and whether in grey."""

    title: str = ""
    grey: bool = False


_COLOUR = re.compile(r"#[0-9a-fA-F]{6}\b")


def slide_svg(svg: str, title: str, *, grey: bool = False) -> str:
    """A drawing as large as it goes on a 16:9 page, under a title of one line.

    Parameters
    ----------
    svg : str
        A drawing of ours, which states its size in mm.
    title : str
        The speaker's own words; shortened where the page is too narrow.
    grey : bool
        Each colour as the grey that is as light.

    Notes
    -----
    The drawing is scaled to the page, so its stated magnification holds no longer; its millimetre rule still does.

    Examples
    --------
    >>> made = slide_svg('<svg xmlns="x" width="20mm" height="10mm" viewBox="0 0 20 10">\\n</svg>', "Before & after")
    >>> svg_size_mm(made)
    (338.667, 190.5)
    >>> "Before &amp; after" in made
    True
    """
    wide, tall = svg_size_mm(svg)
    top = MARGIN_MM + (line_mm(TITLE_PT) + 3.0 if title else 0.0)
    room = SLIDE_MM[0] - 2 * MARGIN_MM, SLIDE_MM[1] - top - MARGIN_MM
    scale = min(room[0] / wide, room[1] / tall)
    left, low = (SLIDE_MM[0] - wide * scale) / 2, top + (room[1] - tall * scale) / 2
    placed = re.sub(
        r'<svg\b([^>]*?)\bwidth="[\d.]+mm"([^>]*?)\bheight="[\d.]+mm"',
        f'<svg\\1x="{number(left)}" y="{number(low)}" width="{number(wide * scale)}"\\2height="{number(tall * scale)}"',
        svg,
        count=1,
    )
    said = shortened(title, room[0], TITLE_PT, "bold") if title else ""
    text = (
        f'<text x="{number(MARGIN_MM)}" y="{number(MARGIN_MM + TITLE_PT * MM_PER_PT)}" font-family="{SANS}"'
        f' font-weight="600" font-size="{number(TITLE_PT * MM_PER_PT)}" fill="{LIGHT["ink"]}">{escape(said)}</text>\n'
        if said
        else ""
    )
    page = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{SLIDE_MM[0]}mm" height="{SLIDE_MM[1]}mm"'
        f' viewBox="0 0 {SLIDE_MM[0]} {SLIDE_MM[1]}">\n<title>{escape(title or "drawing")}</title>\n'
        f'<rect width="100%" height="100%" fill="{LIGHT["paper"]}"/>\n{text}{placed}</svg>\n'
    )
    return in_grey(page) if grey else page


def in_grey(svg: str) -> str:
    """Each colour as the grey of its relative luminance.

    >>> in_grey('fill="#ff0000"'), in_grey('fill="#ffffff"')
    ('fill="#7f7f7f"', 'fill="#ffffff"')
    """

    def grey(found: re.Match[str]) -> str:
        light = luminance(found[0])
        shown = 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055
        return f"#{round(255 * shown):02x}" + f"{round(255 * shown):02x}" * 2

    return _COLOUR.sub(grey, svg)


def slide_files(drawings: Mapping[str, str], pack: Pack) -> dict[str, bytes]:
    """Every drawing as `NAME.svg`, `NAME.pdf` and `NAME.png` on a 16:9 page; SVG only without the extra [pdf].

    Parameters
    ----------
    drawings : mapping of str to str
        Name to SVG.
    pack : Pack
    """
    files = {}
    for name, svg in drawings.items():
        page = slide_svg(svg, pack.title, grey=pack.grey)
        files[f"{name}.svg"] = page.encode()
        files |= if_installed(
            {
                f"{name}.pdf": partial(svg_pdf_bytes, page),
                f"{name}.png": partial(svg_png_bytes, page, PNG_DPI),
            }
        )
    return files
