"""What scatters on a line, every term with its range, unit, reason and source; a study overrides any of them."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from importlib import resources
from types import MappingProxyType
from typing import Any

import numpy as np

from landwise.errors import InputError, UnknownNameError
from landwise.quantities import parse

# How a term's text is read: the dimension whose canonical unit is the term's.
_DIMENSIONS = {"um": "thin length", "deg": "angle", "": "ratio", "um/mm": "ratio"}
Z90 = 1.6449  # half width of a 90 % interval, in standard deviations
SIGMAS = 3.0  # a line's offsets hold for 99.7 % of prints and placements


@dataclass(frozen=True)
class Term:
    """One term: value with its own 90 % range, unit, meaning, reason and source."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    says: str
    reason: str
    source: str

    @property
    def moves(self) -> bool:
        """Whether it has a range."""
        return self.high > self.low

    def at(self, score: Any) -> Any:
        """Its value at a standard normal score of its range; an array for an array."""
        if not self.moves:
            return self.value
        up, down = math.log(self.high / self.value), math.log(self.value / self.low)
        share = np.asarray(score) / Z90
        return self.value * np.exp(np.where(share > 0, up, down) * share)

    def given(self, value: float) -> Term:
        """The same term as a study states it: exact."""
        return Term(self.name, value, value, value, self.unit, self.says, "stated in the study", "study")


@cache
def default_terms() -> Mapping[str, Term]:
    """The shipped terms by name.

    >>> default_terms()["slump_share"].source
    'slump-ipc-a-21'
    """
    text = resources.files("landwise.assembly").joinpath("scatter.toml").read_text(encoding="utf-8")
    return MappingProxyType({name: Term(name, **row) for name, row in tomllib.loads(text).items()})


@dataclass(frozen=True)
class Scatter:
    """The scatter of one line.

    Parameters
    ----------
    terms : tuple of Term
        In the order of the shipped list.
    print_mm, placement_mm : float
        Standard deviations of print and placement offset, along each axis. [mm]
    transfer_score : float
        Where the paste stands in the 90 % band of its transfer, as a standard normal number; 0 is its middle.
    """

    terms: tuple[Term, ...]
    print_mm: float
    placement_mm: float
    transfer_score: float = 0.0

    @cached_property
    def _values(self) -> Mapping[str, float]:
        return {term.name: term.value for term in self.terms}

    def __getitem__(self, name: str) -> float:
        try:
            return self._values[name]
        except KeyError:
            raise UnknownNameError(
                "no such term of scatter", found=name, expected=" | ".join(default_terms())
            ) from None

    def term(self, name: str) -> Term:
        """One term.

        Raises
        ------
        UnknownNameError
        """
        self[name]
        return next(term for term in self.terms if term.name == name)

    def drawn(self, scores: Mapping[str, Any]) -> Scatter:
        """With every term at a standard normal score of its own range, for many draws at once.

        Parameters
        ----------
        scores : mapping of str to array
            By term, and `transfer` for the place in the transfer band; any shape that broadcasts. Terms that the study
            states don't move.

        Notes
        -----
        The value is the median, the ends are the 5 % and 95 % points, the logarithm is normal on either side.
        """
        moved = tuple(
            replace(term, value=term.at(scores[term.name])) if term.name in scores else term for term in self.terms
        )
        return replace(self, terms=moved, transfer_score=scores.get("transfer", self.transfer_score))

    def settled(self) -> Scatter:
        """The same with plain numbers for its values."""
        terms = tuple(replace(term, value=float(term.value)) for term in self.terms)
        return replace(self, terms=terms, transfer_score=float(self.transfer_score))

    def at(self, ends: Mapping[str, str]) -> Scatter:
        """With some terms put at the `low` or `high` end of their range."""
        moved = tuple(term.given(getattr(term, ends[term.name])) if term.name in ends else term for term in self.terms)
        return replace(self, terms=moved)


def scatter(print_offset_mm: float, placement_offset_mm: float, own: Mapping[str, object] | None = None) -> Scatter:
    """The shipped terms with a study's own put in.

    Parameters
    ----------
    print_offset_mm, placement_offset_mm : float
        What 99.7 % of prints and placements stay within: three standard deviations. [mm]
    own : mapping of str to str or number, optional
        Terms by name, with units: `{"lead_film": "5 um"}`.

    Raises
    ------
    UnknownNameError
        For a name that is no term.
    InputError, UnitError
        For a value that can't be read or is negative.

    Examples
    --------
    >>> line = scatter(0.03, 0.05, {"lead_film": "5 um"})
    >>> line["lead_film"], round(line.print_mm, 3), line.term("lead_film").source
    (5.0, 0.01, 'study')
    """
    if not (print_offset_mm > 0 and placement_offset_mm > 0):
        raise InputError(
            "offsets must be positive", place="line", found=f"{print_offset_mm:g}, {placement_offset_mm:g} mm"
        )
    terms = dict(default_terms())
    for name, text in (own or {}).items():
        if name not in terms:
            raise UnknownNameError(
                "no such term of scatter", place="line, scatter", found=name, expected=" | ".join(terms)
            )
        value = parse(text, _DIMENSIONS[terms[name].unit], place=f"line, scatter, {name}")
        if not value > 0:
            raise InputError("a term of scatter must be positive", place=f"line, scatter, {name}", found=f"{value:g}")
        terms[name] = terms[name].given(value)
    return Scatter(tuple(terms.values()), print_offset_mm / SIGMAS, placement_offset_mm / SIGMAS)
