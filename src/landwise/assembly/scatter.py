"""What scatters on a line, every term with its range, unit, reason and source; a study overrides any of them."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache, cached_property
from importlib import resources
from types import MappingProxyType
from typing import cast

import numpy as np

from landwise.assembly.depositspread import Z90 as Z90
from landwise.assembly.depositspread import DepositSpread
from landwise.errors import InputError, UnknownNameError
from landwise.quantities import parse
from landwise.untyped import Number

# How a term's text is read: the dimension whose canonical unit is the term's.
_DIMENSIONS = {"um": "thin length", "deg": "angle", "": "ratio", "um/mm": "ratio"}
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

    def at(self, score: object) -> Number:
        """Its value at a standard normal score of its range; an array for an array."""
        if not self.moves:
            return self.value
        up, down = math.log(self.high / self.value), math.log(self.value / self.low)
        share = np.asarray(score) / Z90
        return self.value * np.exp(np.where(share > 0, up, down) * share)

    def score(self, value: object) -> Number:
        """Where a value stands in its range, as a standard normal number: the inverse of `at`."""
        logarithm = np.log(np.asarray(value) / self.value)
        up, down = math.log(self.high / self.value), math.log(self.value / self.low)
        return Z90 * np.where(logarithm > 0, logarithm / up, logarithm / down)

    def given(self, value: float, low: float | None = None, high: float | None = None) -> Term:
        """The same term as a study states it: exact, or with the 90 % range that a line's own data left it."""
        ends = (value if low is None else low, value if high is None else high)
        return Term(self.name, value, *ends, self.unit, self.says, "stated in the study", "study")


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
    transfer_spread : float
        Standard deviation of that number as far as it is not known: 1 before a line measured its own.
    spread : DepositSpread, optional
        How much paste it transfers and how far its deposits spread, where it measured them; without, the shipped band
        and spread stand.
    measured : (transfer, spread)
        Where the line is in the intervals of what it measured, as standard normal numbers.
    """

    terms: tuple[Term, ...]
    print_mm: float
    placement_mm: float
    transfer_score: float = 0.0
    transfer_spread: float = 1.0
    spread: DepositSpread | None = None
    measured: tuple[float, float] = (0.0, 0.0)

    def __repr__(self) -> str:
        """All that it holds, as keys and seeds want it; what no line measured is left out, so that seeds stay."""
        own = () if self.spread is None else ("spread", "measured")
        told = [one.name for one in fields(self) if one.name not in ("spread", "measured") or one.name in own]
        return f"Scatter({', '.join(f'{name}={getattr(self, name)!r}' for name in told)})"

    @property
    def seeding(self) -> Scatter:
        """What seeds follow from: measured deposits move rates on the same numbers, so that no noise comes in."""
        return self if self.spread is None else replace(self, spread=None, measured=(0.0, 0.0))

    def deposit_cv(self, shipped: float, area_ratio: float) -> float:
        """Spread of a deposit on this line, standard deviation over mean; arrays for arrays."""
        if self.spread is None:
            return shipped
        found = shipped * self.spread.factor(area_ratio, self.measured[1])
        return float(found) if np.ndim(found) == 0 else cast("float", found)  # fields of joints may hold arrays

    def place(self, area_ratio: float) -> float:
        """Where paste stands in the transfer band of an opening, in its standard deviations; arrays for arrays."""
        if self.spread is None:
            return self.transfer_score
        found = self.spread.place(area_ratio, self.transfer_score, self.measured[0])
        return float(found) if np.ndim(found) == 0 else cast("float", found)

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

    def drawn(self, scores: Mapping[str, Number]) -> Scatter:
        """With every term at a standard normal score of its own range, for many draws at once.

        Parameters
        ----------
        scores : mapping of str to array
            By term, `transfer` for the place in the transfer band, and `deposits` for the measured spreads; any shape
            that broadcasts. Terms that the study states don't move, nor does what no line measured.

        Notes
        -----
        The value is the median, the ends are the 5 % and 95 % points, the logarithm is normal on either side.
        """
        moved = tuple(
            replace(term, value=term.at(scores[term.name])) if term.name in scores else term for term in self.terms
        )
        found = replace(self, terms=moved)
        if "transfer" in scores:
            score = self.transfer_score + self.transfer_spread * scores["transfer"]
            found = replace(found, transfer_score=score)
        if self.spread is not None:
            found = replace(found, measured=(scores.get("transfer", 0.0), scores.get("deposits", 0.0)))
        return found

    def settled(self) -> Scatter:
        """The same with plain numbers for its values."""
        terms = tuple(replace(term, value=float(term.value)) for term in self.terms)
        transfer, deposits = (float(one) for one in self.measured)
        return replace(self, terms=terms, transfer_score=float(self.transfer_score), measured=(transfer, deposits))

    def at(self, ends: Mapping[str, str]) -> Scatter:
        """With some terms put at the `low` or `high` end of their range."""
        moved = tuple(term.given(getattr(term, ends[term.name])) if term.name in ends else term for term in self.terms)
        return replace(self, terms=moved)


def scatter(
    print_offset_mm: float,
    placement_offset_mm: float,
    own: Mapping[str, object] | None = None,
    transfer: Sequence[float] | None = None,
    spread: DepositSpread | None = None,
) -> Scatter:
    """The shipped terms with a study's own put in.

    Parameters
    ----------
    print_offset_mm, placement_offset_mm : float
        What 99.7 % of prints and placements stay within: three standard deviations. [mm]
    own : mapping of str to str, number or three of them, optional
        Terms by name, with units: `{"lead_film": "5 um"}`; three are the low end, the value and the high end.
    transfer : low, value, high, optional
        Where the line's own paste stands in the transfer band, standard normal numbers with their 90 % interval.
    spread : DepositSpread, optional
        How much paste it transfers and how far its deposits spread, where it measured them.

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
        terms[name] = _stated(terms[name], text)
    found = Scatter(tuple(terms.values()), print_offset_mm / SIGMAS, placement_offset_mm / SIGMAS, spread=spread)
    if transfer is None:
        return found
    low, value, high = _ordered(transfer, "line, transfer")
    return replace(found, transfer_score=value, transfer_spread=(high - low) / (2 * Z90))


def _stated(term: Term, text: object) -> Term:
    """A term as a study states it: one quantity, or low, value and high."""
    place = f"line, scatter, {term.name}"
    texts = list(text) if isinstance(text, (list, tuple)) else [text]
    values = [parse(one, _DIMENSIONS[term.unit], place=place) for one in texts]
    if not all(value > 0 for value in values):
        raise InputError("a term of scatter must be positive", place=place, found=f"{min(values):g}")
    if len(values) == 1:
        return term.given(values[0])
    low, value, high = _ordered(values, place)
    return term.given(value, low, high)


def _ordered(values: Sequence[float], place: str) -> tuple[float, float, float]:
    if len(values) != 3 or not values[0] <= values[1] <= values[2]:
        raise InputError(
            "not a value with its range",
            place=place,
            found=", ".join(f"{value:g}" for value in values),
            expected="one value, or [low, value, high] in this order",
        )
    return values[0], values[1], values[2]
