"""How far each dimension of an outline was read, and what an outline's own mark is: that of its weakest dimension.

A dimension that lands, joints or heights use counts; the weight, names and warpage don't. A key of `read` may
say which limit was read: `height_mm:max` where the drawing prints only the largest height, which is the one
that is used.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from landwise.evidence.sources import source
from landwise.outlines.model import GRIDS, LEADED, LEADLESS, Outline
from landwise.untyped import Table

# From the best to the weakest. What follows by arithmetic from dimensions that were read stands next to them.
RANKS: tuple[str, ...] = ("verified", "computed", "second-hand", "common practice, no source", "from memory")
KINDS: tuple[str, ...] = ("standard", "maker's drawing", "computed", "recalled")
_ALWAYS = ("pitch_mm", "body_length_mm", "body_width_mm", "terminal_width_mm", "height_mm", "standoff_mm")
_WHERE_STATED = (
    "span_mm",
    "span_length_mm",
    "foot_mm",
    "terminal_thickness_mm",
    "row_spacing_mm",
    "exposed_length_mm",
    "exposed_width_mm",
    "package_land_mm",
    "end_pitch_mm",
    "pitch_across_mm",
)
LIMITS = ("min", "nom", "max")
# What no drawing prints, because it follows from what it does print: the dimension, the rule, and what it follows from.
# Nobody could have read it, so it is neither read nor unread: the outline's mark is that of what it follows from, which
# counts anyway. The dimension itself stays marked as computed wherever it is shown.
BY_RULE: Mapping[str, tuple[str, tuple[str, ...]]] = MappingProxyType(
    {"package_land_mm": ("ball-cap-geometry", ("terminal_width_mm", "standoff_mm"))}
)


@dataclass(frozen=True)
class Reading:
    """One dimension's reading: its mark, the texts, the kind of the best of them, and the only limit read."""

    dimension: str
    mark: str
    kind: str
    sources: tuple[str, ...]
    only: str = ""


def weakest(marks: Iterable[str]) -> str:
    """The weakest of some marks.

    >>> weakest(["verified", "from memory", "second-hand"])
    'from memory'
    """
    return max(marks, key=RANKS.index)


def kind_of(key: str) -> str:
    """What a source is: a standard, a maker's drawing, arithmetic on others, or recalled.

    >>> kind_of("ti-dck0006a"), kind_of("jedec-mo-153-notes")
    ("maker's drawing", 'standard')
    """
    found = source(key)
    return found.kind or {"from memory": "recalled", "computed": "computed"}.get(found.mark, "maker's drawing")


def used_dimensions(values: Mapping[str, object] | Outline) -> tuple[str, ...]:
    """The dimensions of an outline that lands, joints or heights use, in the order of the drawing.

    Parameters
    ----------
    values : mapping or Outline
        An outline, or its fields before it is built.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> used_dimensions(find("SOT-23-5"))[:4]
    ('pitch_mm', 'body_length_mm', 'body_width_mm', 'terminal_width_mm')
    """
    given = values if isinstance(values, Mapping) else vars(values)
    family = given["family"]
    parts = list(_ALWAYS)
    parts += [name for name in _WHERE_STATED if given.get(name) is not None]
    if given.get("absent"):
        parts.append("absent")
    if family in GRIDS:
        parts = [name for name in parts if name not in ("foot_mm", "terminal_thickness_mm", "span_mm")]
    elif family not in LEADED | LEADLESS:
        parts = [name for name in parts if name not in ("span_mm", "span_length_mm")]
    return tuple(parts)


def readings(outline: Outline) -> tuple[Reading, ...]:
    """How far each used dimension was read.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> {reading.mark for reading in readings(find("SC-70-6"))}
    {'verified'}
    """
    return tuple(_reading(outline, name) for name in used_dimensions(outline))


def _reading(outline: Outline, name: str) -> Reading:
    if not outline.read:
        return Reading(name, outline.mark, "", outline.sources)
    keys = outline.read.get(name, ())
    only = next((limit for limit in LIMITS if f"{name}:{limit}" in outline.read), "")
    if not keys and only:
        keys = outline.read[f"{name}:{only}"]
    else:
        only = ""
    if not keys:
        return Reading(name, "from memory", "recalled", ())
    best = min(keys, key=lambda key: RANKS.index(source(key).mark))
    return Reading(name, source(best).mark, kind_of(best), keys, only)


def follows_by_rule(dimension: str, sources: Iterable[str]) -> bool:
    """Whether a dimension is worked by its rule from others of the outline, and by nothing else.

    >>> follows_by_rule("package_land_mm", ["ball-cap-geometry"]), follows_by_rule("body_length_mm", ["ti-yzp-family"])
    (True, False)
    """
    rule = BY_RULE.get(dimension)
    return rule is not None and tuple(sources) == (rule[0],)


def mark_of(values: Table) -> str:
    """The mark of an outline from its `read` table: that of the weakest used dimension that a drawing could print.

    What follows by a rule of `BY_RULE` from other used dimensions adds no doubt of its own.
    """
    read: Mapping[str, tuple[str, ...]] = values["read"]
    marks = []
    for name in used_dimensions(values):
        keys = read.get(name) or next((read[f"{name}:{limit}"] for limit in LIMITS if f"{name}:{limit}" in read), ())
        if follows_by_rule(name, keys):
            continue
        marks.append(min((source(key).mark for key in keys), key=RANKS.index, default="from memory"))
    return weakest(marks)


@dataclass(frozen=True)
class Tally:
    """How many outlines, and how many of their used dimensions, carry each mark."""

    outlines: Mapping[str, int]
    dimensions: Mapping[str, int]

    def share(self, *marks: str) -> float:
        """Share of outlines whose weakest dimension carries one of the marks."""
        return sum(self.outlines.get(mark, 0) for mark in marks) / sum(self.outlines.values())

    def dimension_share(self, *marks: str) -> float:
        """Share of used dimensions that carry one of the marks."""
        return sum(self.dimensions.get(mark, 0) for mark in marks) / sum(self.dimensions.values())


def tally(outlines: Iterable[Outline]) -> Tally:
    """Count marks over outlines and over their used dimensions."""
    whole: dict[str, int] = {}
    single: dict[str, int] = {}
    for outline in outlines:
        whole[outline.mark] = whole.get(outline.mark, 0) + 1
        for reading in readings(outline):
            single[reading.mark] = single.get(reading.mark, 0) + 1
    return Tally(whole, single)
