"""Every default of landwise in one list: study fields, lines, land and aperture rules, rates, criteria."""

from __future__ import annotations

from dataclasses import dataclass, fields

from landwise.assembly.lines import REASONS as LINE_REASONS
from landwise.assembly.lines import presets
from landwise.assembly.scatter import default_terms
from landwise.choosing.values import CRITERIA
from landwise.costs.rates import default_rates
from landwise.evidence.sources import source
from landwise.lands import RULE_REASONS as LAND_REASONS
from landwise.lands import LandRules
from landwise.printing.apertures import RULE_REASONS as APERTURE_REASONS
from landwise.printing.apertures import ApertureRules
from landwise.study.boardtable import Board, PanelTable
from landwise.study.linetable import LineTable
from landwise.study.usetable import Use
from landwise.study.wanttable import CostsTable, Want


@dataclass(frozen=True)
class Default:
    """One default of the study file: where it stands, its value, what it means, why, and its source."""

    place: str
    value: str
    says: str
    reason: str
    source: str


def study_defaults() -> tuple[Default, ...]:
    """Every default of the study file with its reason."""
    found = []
    for name, table in (
        ("board", Board),
        ("line", LineTable),
        ("use", Use),
        ("want", Want),
        ("costs", CostsTable),
        ("board.panel", PanelTable),
    ):
        for field, info in table.model_fields.items():
            if info.is_required():
                continue
            extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
            found.append(
                Default(
                    f"{name}.{field}",
                    _shown(info.default),
                    info.description or "",
                    str(extra.get("reason", "")),
                    str(extra.get("source", "")),
                )
            )
    return tuple(found)


def _shown(value: object) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "true" if value else "false"
    return "–" if value in ({}, []) else f"{value:g}" if isinstance(value, float) else str(value)


def all_defaults() -> tuple[Default, ...]:
    """Every default with its value, meaning, reason and the mark of its source.

    >>> all(item.reason for item in all_defaults())
    True
    """
    found = [_marked(item) for item in study_defaults()]
    for name, line in presets().items():
        for key, (reason, where) in LINE_REASONS.items():
            value = getattr(line, _LINE_FIELDS.get(key, key))
            shown = (
                ", ".join(f"{v:g}" if isinstance(v, float) else str(v) for v in value)
                if isinstance(value, tuple)
                else str(value)
            )
            found.append(_marked(Default(f"line {name}.{key}", shown, line.says, reason, where)))
    found += _rules("lands", LandRules(), LAND_REASONS)
    found += _rules("apertures", ApertureRules(), APERTURE_REASONS)
    for rate in default_rates().values():
        found.append(
            _marked(
                Default(
                    f"costs.rates.{rate.name}",
                    f"{rate.value:g}",
                    f"{rate.for_what} ({rate.low:g}…{rate.high:g} {rate.unit})",
                    f"assumption: {rate.reason}",
                    rate.source,
                )
            )
        )
    for term in default_terms().values():
        unit = f" {term.unit}" if term.unit else ""
        said = f"{term.says} ({term.low:g}…{term.high:g}{unit})"
        found.append(_marked(Default(f"scatter.{term.name}", f"{term.value:g}{unit}", said, term.reason, term.source)))
    for criterion in CRITERIA.values():
        found.append(
            _marked(
                Default(
                    f"criteria.{criterion.name}",
                    f"{criterion.weight:g}",
                    f"{criterion.title}: {criterion.rule}",
                    criterion.reason,
                    "landwise-rule",
                )
            )
        )
    return tuple(found)


_LINE_FIELDS = {
    "foils": "foils_um",
    "foil": "foil_um",
    "least_pitch": "least_pitch_mm",
    "least_ball_pitch": "least_ball_pitch_mm",
    "print_offset": "print_offset_mm",
    "placement_offset": "placement_offset_mm",
}


def _rules(table: str, rules: object, reasons: object) -> list[Default]:
    found = []
    # Any frozen dataclass of rules; `object` is what both kinds share.
    for item in fields(rules):  # type: ignore[arg-type]
        # A mapping of name to reason and place, whichever rules it belongs to.
        reason, where = reasons[item.name]  # type: ignore[index]
        value = getattr(rules, item.name)
        unit = " mm" if item.name.endswith("_mm") else ""
        found.append(
            _marked(
                Default(
                    f"{table}.{item.name}",
                    f"{value:g}{unit}" if isinstance(value, float) else str(value),
                    item.name.replace("_", " ").removesuffix(" mm"),
                    reason,
                    where,
                )
            )
        )
    return found


def _marked(item: Default) -> Default:
    if not item.source:
        return item
    mark = source(item.source).mark
    return Default(item.place, item.value, item.says, item.reason, f"{item.source}: {mark}")
