"""What a reader must be told before anything else: failed life, short clearance, hot junction, and what nobody tested.

A caution is data: a key, its figure, its numbers, the standard to turn to, and whether it binds. Headline,
table, terminal and card print every binding one; words are made here once (`text`) and nothing is found by them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from landwise.evidence.figures import Figure
from landwise.quantities import show
from landwise.service.clearance import HAZARD_SOURCE, HAZARD_V, STANDARDS
from landwise.untyped import Fields

Key = Literal["touch-voltage", "clearance", "hot-junction", "life", "shaking", "reflow", "evidence"]
# Most serious first: people, then what breaks at once, then what wears out, then what is not known.
ORDER: tuple[Key, ...] = ("touch-voltage", "clearance", "hot-junction", "life", "shaking", "reflow", "evidence")


@dataclass(frozen=True)
class Caution:
    """One thing a reader must be told.

    Parameters
    ----------
    key : str
        Its kind, one of `ORDER`.
    figure : str
        Key of the figure it comes from; empty for one that comes from the study.
    binds : bool
        Whether no headline, table row, terminal or card may leave it out, and no green word may stand over it.
    value, limit : float or None
        What was found and what it is held to, in `unit`.
    standard : str
        What to turn to.
    source : str
        Key of the limit's source.
    """

    key: Key
    figure: str
    binds: bool
    value: float | None
    limit: float | None
    unit: str
    standard: str
    source: str

    @property
    def text(self) -> str:
        """One sentence, ready to print."""
        found = show(self.value, self.unit) if self.value is not None else "not known"
        held = show(self.limit, self.unit) if self.limit is not None else "no limit"
        return _WORDS[self.key].format(found=found, held=held, standard=self.standard, figure=self.figure)

    @property
    def short(self) -> str:
        """A few words for a table's cell.

        >>> Caution("clearance", "clearance", True, 0.2, 2.5, "mm", "", "").short.replace(chr(8201), " ")
        'clearance 0.2 mm, wanted 2.5 mm'
        """
        found = show(self.value, self.unit) if self.value is not None else "not known"
        held = show(self.limit, self.unit) if self.limit is not None else "no limit"
        return f"{self.key} {found}, {'limit' if self.key in _CEILINGS else 'wanted'} {held}"

    def as_json(self) -> Fields:
        """Plain data for the result file."""
        return {
            "key": self.key,
            "figure": self.figure,
            "binds": self.binds,
            "value": self.value,
            "limit": self.limit,
            "unit": self.unit,
            "standard": self.standard,
            "source": self.source,
            "text": self.text,
        }


_CEILINGS: frozenset[Key] = frozenset({"touch-voltage", "hot-junction", "shaking"})
_WORDS: Mapping[Key, str] = MappingProxyType(
    {
        "touch-voltage": (
            "{found} can hurt or kill (touch limit {held}): {standard} rule spacing, insulation and coating, and a"
            " licensed engineer decides"
        ),
        "clearance": "gap of {found} where {held} is wanted: do not build it so; turn to {standard}",
        "hot-junction": "junction at {found}, limit {held}: measure it, and take {standard}",
        "life": "joints computed to last {found} of the {held} wanted: {standard} shows it by test",
        "shaking": "bent to {found} of what it stands ({held}): {standard} shows it by test",
        "reflow": "classed for {found}, this line's parts see {held}: {standard}",
        "evidence": "{figure}: nothing at hand shows it either way; {standard} does",
    }
)
# Which caution a failed figure makes, and what to turn to.
_FAILED: Mapping[str, tuple[Key, str]] = MappingProxyType(
    {
        "clearance": ("clearance", f"IPC-2221, and above {HAZARD_V:g} V {STANDARDS}"),
        "junction-temperature": ("hot-junction", "the absolute maximum of the part's data sheet"),
        "life": ("life", "IPC-9701"),
        "test-life": ("life", "IPC-9701"),
        "vibration": ("shaking", "IEC 60068-2-64"),
        "shock": ("shaking", "IEC 60068-2-27"),
        "board-strain": ("shaking", "IPC/JEDEC-9704"),
        "reflow-peak": ("reflow", "J-STD-020 and the maker's own class"),
    }
)
CAUTIONED = tuple(_FAILED)  # keys of the figures that make a binding caution where they fail
# Figures whose absence of evidence is worth a line, and the test that would show it.
_UNSHOWN: Mapping[str, str] = MappingProxyType(
    {
        "life": "IPC-9701",
        "junction-temperature": "a measurement, or the part's power in the study",
        "migration-field": "IPC-TM-650 2.6.14.1 on this assembly",
    }
)


def cautions_of(figures: Mapping[str, Figure], voltage_v: float = 0.0) -> tuple[Caution, ...]:
    """Everything a reader of an option must be told, most serious first.

    Parameters
    ----------
    figures : mapping of str to Figure
        Of one option, by key. Figures that are not there make no caution.
    voltage_v : float
        Highest voltage across the part's gaps, peak. [V]

    Notes
    -----
    A figure that fails binds. One that is not known never binds and never fails: it is told as such. A voltage that can
    hurt binds whatever the gap, since the table that a gap is held against is no safety standard.

    Examples
    --------
    >>> gap = Figure(key="clearance", title="gap", value=None, unit="mm", verdict="fails")
    >>> [(c.key, c.binds) for c in cautions_of({"clearance": gap}, 325)]
    [('touch-voltage', True), ('clearance', True)]
    >>> unknown = Figure(key="life", title="life", value=None, unit="years")
    >>> [(c.key, c.binds) for c in cautions_of({"life": unknown})]
    [('evidence', False)]
    """
    found: list[Caution] = []
    if voltage_v > HAZARD_V:
        found.append(Caution("touch-voltage", "", True, voltage_v, HAZARD_V, "V", STANDARDS, HAZARD_SOURCE))
    for name, figure in figures.items():
        if figure.verdict == "fails" and name in _FAILED:
            key, standard = _FAILED[name]
            source = figure.limit_source
            found.append(Caution(key, name, True, figure.value, figure.limit, figure.unit, standard, source))
        elif figure.verdict == "not known" and name in _UNSHOWN:
            found.append(Caution("evidence", name, False, None, figure.limit, figure.unit, _UNSHOWN[name], ""))
    return tuple(sorted(found, key=lambda caution: ORDER.index(caution.key)))


def binding(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """Those that no headline may leave out."""
    return tuple(caution for caution in cautions if caution.binds)
