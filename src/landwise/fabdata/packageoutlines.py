"""The catalogue's outline that a package text means, and what had to be assumed for it."""

from __future__ import annotations

import re
from dataclasses import replace

from landwise.errors import UnknownNameError
from landwise.fabdata.packages import PackageReading
from landwise.outlines import Outline, catalogue, find
from landwise.outlines.model import Range

CERAMIC = "CDIP"  # drilled ceramic bodies; the catalogue has those of 14, 16 and 20 leads
_DEFAULT_WIDE = 20  # small-outline parts of so many leads and more come in the wide body


def outline_for(reading: PackageReading, terminals: int | None = None) -> tuple[Outline | None, str]:
    """The catalogue's outline that a reading means, and what had to be assumed.

    Parameters
    ----------
    reading : PackageReading
    terminals : int, optional
        From the function, where the package text names none.

    Examples
    --------
    >>> from landwise.fabdata.packages import read_package
    >>> outline, assumed = outline_for(read_package("SOIC-14"))
    >>> outline.name, assumed
    ('SO-14', '')
    """
    count = reading.terminals or terminals
    if count is None:
        return None, ""
    if names_the_body_alone(reading, terminals):
        full, _ = outline_for(replace(reading, terminals=None), terminals)
        return full, f"{reading.text} alone is the body of three terminals" if full else ""
    if reading.style in catalogue() and catalogue()[reading.style].terminals == count:
        return catalogue()[reading.style], ""
    named = _named(reading)
    if named is not None and named.terminals == count and _is_style(named, reading.style):
        return named, ""
    fitting = [
        outline
        for outline in catalogue().values()
        if outline.terminals == count and _is_style(outline, reading.style) and _wettable_if_told(outline, reading)
    ]
    # A centre pad is counted in some texts: QFN-24 with pad as 25 terminals.
    if not fitting and reading.style in ("QFN", "DFN", "SON"):
        fitting = [
            o
            for o in catalogue().values()
            if o.terminals == count - 1 and _is_style(o, reading.style) and o.has_exposed_pad
        ]
    if not fitting and reading.style == CERAMIC:
        plastic, _ = outline_for(replace(reading, style="DIP"), terminals)
        return plastic, f"{plastic.name} taken for the ceramic body, which is higher" if plastic else ""
    if not fitting:
        return None, ""
    ranked = sorted(fitting, key=lambda outline: (_distance(outline, reading), outline.body_area_mm2))
    best, away = ranked[0], _distance(ranked[0], reading)
    told = reading.pitch_mm is not None or reading.body_mm is not None
    if told and away > FARTHEST_MM:
        return None, ""  # to take another body for it would be a false saving
    if reading.body_mm and away > NEAR_MM:
        size = f"{reading.body_mm[0]:g} × {reading.body_mm[1]:g} mm"
        return best, f"{best.name} is the nearest known outline; the text says {size}"
    alike = [outline.name for outline in ranked[1:] if not told or _distance(outline, reading) - away < ALIKE_MM]
    if alike and not (reading.style == "SO" and count >= _DEFAULT_WIDE):
        return best, f"{best.name} taken; the text fits {', '.join(alike[:3])} too"
    return best, ""


def _named(reading: PackageReading) -> Outline | None:
    """The outline whose name or other name the text is; a count of balls alone tells no pitch."""
    pitch_open = reading.style == "WLP" and reading.pitch_mm is None
    if reading.body_mm is not None or pitch_open or not re.search(r"\d", reading.text):
        return None
    try:
        return find(reading.text)
    except UnknownNameError:
        return None


def of_other_length(reading: PackageReading, terminals: int) -> Outline | None:
    """A two-row gull-wing body that the catalogue has with other counts of leads only, made longer or shorter.

    Parameters
    ----------
    reading : PackageReading
    terminals : int

    Notes
    -----
    Bodies of one style and pitch share width, span and leads, whatever their count (registered outlines are drawn as
    one table with the count as its rows); the nearest count is taken. A text that tells another width is no such body.
    Whoever uses it checks it against something, such as the lands of a board.

    Examples
    --------
    >>> from landwise.fabdata.packages import read_package
    >>> made = of_other_length(read_package("HTSSOP-28 9.8x4.5mm"), 28)
    >>> made.name, made.terminals, made.mark, round(made.body_length_mm.nom, 2)
    ('TSSOP of 28 leads', 28, 'assumption', 9.8)
    >>> of_other_length(read_package("QFN-28"), 28) is None
    True
    """
    pitch, width = reading.pitch_mm, min(reading.body_mm or (0.0, 0.0))
    alike = [
        one
        for one in catalogue().values()
        if one.family == "gull-wing dual"
        and not one.sides
        and _is_style(one, reading.style)
        and (pitch is None or abs(one.pitch_mm - pitch) < ALIKE_MM)
        and (not width or abs(min(one.body_width_mm.nom, one.body_length_mm.nom) - width) < NEAR_MM)
    ]
    if not alike or terminals % 2 or terminals < LEAST_LEADS:
        return None
    best = min(alike, key=lambda one: (abs(one.terminals - terminals), one.name))
    length = best.body_length_mm
    longer = (terminals - best.terminals) / 2 * best.pitch_mm
    if reading.body_mm:
        longer = max(reading.body_mm) - length.nom
    return replace(
        best,
        name=f"{reading.style} of {terminals} leads",
        terminals=terminals,
        body_length_mm=Range(length.min + longer, length.nom + longer, length.max + longer),
        mark="assumption",
    )


LEAST_LEADS = 6


def names_the_body_alone(reading: PackageReading, terminals: int | None) -> bool:
    """Whether a text such as `SOT-23` stands beside a function that needs more than the three terminals it means.

    >>> from landwise.fabdata.packages import read_package
    >>> names_the_body_alone(read_package("SOT-23"), 5), names_the_body_alone(read_package("SOT-23"), 3)
    (True, False)
    """
    return reading.terminals == THREE and reading.style in ("SOT-23", "SC-70") and (terminals or THREE) > THREE


THREE = 3  # terminals of the first bodies of these names
FARTHEST_MM = 1.0  # beyond this a text means another body than the nearest of the catalogue
NEAR_MM = 0.35  # bodies of one outline are written this differently: with and without mould flash
ALIKE_MM = 0.005


def _wettable_if_told(outline: Outline, reading: PackageReading) -> bool:
    """Bodies with wettable flanks share the plan of the plain ones: meant only where the text says so."""
    return not outline.name.endswith("-WF") or bool(re.search(r"WF|wettable", reading.text, re.I))


def _small_outline(outline: Outline) -> str:
    """Which of the three widths a small-outline body of 1.27 mm pitch has; an empty text for any other."""
    if not outline.name.startswith("SO") or abs(outline.pitch_mm - 1.27) > 0.01:
        return ""
    width = min(outline.body_width_mm.nom, outline.body_length_mm.nom)
    return "SO" if width < 4.6 else "SO 5.3" if width < 6.5 else "SO wide"


def _is_style(outline: Outline, style: str) -> bool:
    name = outline.name
    if style in ("SO", "SO 5.3", "SO wide"):
        width = _small_outline(outline)
        # Beyond 16 leads there is no narrow body: the wide one is meant where the text tells no width.
        return width == style or (style == "SO" and width == "SO wide" and outline.terminals >= _DEFAULT_WIDE)
    if style in ("DIP wide", "DIP narrow"):
        rows = outline.row_spacing_mm
        return name.startswith("DIP-") and rows is not None and (rows.nom > 10) == (style == "DIP wide")
    if style.startswith("WLP "):
        return name.startswith("WLP-") and abs(outline.pitch_mm - float(style[4:])) < 0.01
    if style == "SOT-23 thin":
        return name.startswith("SOT-23-THIN")
    if style == "SOT-23":
        return name.startswith("SOT-23-") and "THIN" not in name
    if style == "VSSOP-2.3":
        return name == "VSSOP-8"
    if style == "VSSOP":
        return name.startswith(("VSSOP-", "MSOP-"))
    if style == "QFN wide body":
        return name.startswith("QFN-") and "-3.5x" in name
    if style == "QFP":
        return name.startswith(("QFP-", "TQFP-"))
    if style in ("SON", "DFN"):
        return name.startswith(("SON-", "DFN-"))
    return name.startswith(f"{style}-")


def _distance(outline: Outline, reading: PackageReading) -> float:
    """How far an outline is from what a text says, in mm of body plus ten times the pitch error."""
    distance = 0.0
    if reading.pitch_mm is not None:
        distance += 10 * abs(outline.pitch_mm - reading.pitch_mm)
    if reading.body_mm is not None:
        ours = sorted((outline.body_length_mm.nom, outline.body_width_mm.nom))
        span = sorted((outline.body_length_mm.nom, (outline.span_mm or outline.body_width_mm).nom))
        theirs = sorted(reading.body_mm)
        distance += min(sum(abs(a - b) for a, b in zip(size, theirs, strict=True)) for size in (ours, span))
    # Where the text tells nothing, logic in a leadless quad comes in the oblong bodies, whose numbers start on top.
    return distance + (0.0 if outline.start == "top" else 0.01) + (0.001 if outline.mark == "from memory" else 0.0)
