"""How often the joints of a part's packages go wrong, as every page tells it: per million, and against one of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from landwise.assembly.leftout import LeftOut
from landwise.judging.ratewords import not_modelled_words, per_million, times
from landwise.judging.ratios import Against, defects_against, reference_of
from landwise.judging.results import OptionResult, PartResult

REFERENCE = "×1"
HEADS = ("bridges", "opens", "all defects")


@dataclass(frozen=True)
class RateRow:
    """One option.

    Parameters
    ----------
    name : str
    rates : tuple of str
        Bridges, opens, floats with skews and tilts, other causes and all defects, per million parts with 90 % ranges.
    against : tuple of str
        Bridges, opens and all defects over those of the reference, other causes included, with 90 % ranges.
    left_out : tuple of LeftOut
        Ways to fail that only the other causes hold.
    """

    name: str
    rates: tuple[str, str, str, str, str]
    against: tuple[str, str, str]
    left_out: tuple[LeftOut, ...] = ()


@dataclass(frozen=True)
class RateTable:
    """The printed options of one part; empty where nothing is printed.

    Parameters
    ----------
    reference : str
        What the ratios stand against.
    in_use : bool
        Whether that is the package in use.
    rows : tuple of RateRow
        In rank order.
    """

    reference: str
    in_use: bool
    rows: tuple[RateRow, ...]

    @property
    def by_name(self) -> Mapping[str, RateRow]:
        """Rows by option."""
        return {row.name: row for row in self.rows}

    @property
    def head(self) -> str:
        """What the ratios are, for a label."""
        return f"defects against {self.reference}" + (", in use" if self.in_use else "")

    @property
    def left_out(self) -> tuple[str, ...]:
        """What is not modelled, a line for each group of packages that leaves out the same."""
        by: dict[tuple[LeftOut, ...], list[str]] = {}
        for row in self.rows:
            if row.left_out:
                by.setdefault(row.left_out, []).append(row.name)
        if len(by) == 1:
            return (self.left_out_of_all,)
        return tuple(f"{', '.join(names)}: {not_modelled_words(ways)}" for ways, names in by.items())

    @property
    def left_out_of_all(self) -> str:
        """The same in one line, whatever package it is of; empty where nothing is left out."""
        return not_modelled_words(dict.fromkeys(way for row in self.rows for way in row.left_out))


def rate_table(part: PartResult) -> RateTable:
    """The table of a part's printed options."""
    reference = reference_of(part)
    if reference is None:
        return RateTable("", in_use=False, rows=())
    against = defects_against(part)
    rows = (_row(option, reference.name, against.get(option.name)) for option in part.options)
    return RateTable(reference.name, reference is part.present, tuple(row for row in rows if row is not None))


def _row(option: OptionResult, reference: str, against: Against | None) -> RateRow | None:
    found = option.geometry.rates
    if found is None:
        return None
    rates = (found.bridges, found.opens, found.moved, found.other, found.defects)
    bridges, opens, moved, other, defects = (per_million(rate) for rate in rates)
    if option.name == reference:
        told = (REFERENCE, REFERENCE, REFERENCE)
    elif against is None:
        told = ("–", "–", "–")
    else:
        told = (times(against.bridges), times(against.opens), times(against.ratio))
    return RateRow(option.name, (bridges, opens, moved, other, defects), told, found.not_modelled())


def against_lines(row: RateRow | None) -> tuple[str, ...]:
    """A cell's lines: each ratio with what it is of.

    >>> row = RateRow("SO-14", ("1", "2", "3", "4", "10"), ("×2 (1…3)", "×1 (0.5…2)", "×1.2 (0.8…1.9)"))
    >>> against_lines(row)
    ('bridges ×2 (1…3)', 'opens ×1 (0.5…2)', 'all defects ×1.2 (0.8…1.9)')
    """
    if row is None:
        return ("not printed",)
    if set(row.against) == {REFERENCE}:
        return (REFERENCE,)
    if set(row.against) == {"–"}:
        return ("–",)
    return tuple(f"{head} {text}" for head, text in zip(HEADS, row.against, strict=True))
