"""Notes: what a reader must know beside the figures, each by its key and its facts; `results/notewords` says them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from landwise.judging.limits import Limit


class NoteKey(StrEnum):
    """What a note is about."""

    # Of a study.
    PRESENT_UNKNOWN = "present-unknown"
    NOTHING_FITS = "nothing-fits"
    RATES_ASSUMED = "rates-assumed"
    PRICES_FAR_OFF = "prices-far-off"
    OTHER_MONEY = "other-money"
    NOT_JUDGED = "not-judged"
    NOT_TOGETHER = "not-together"
    CLASS_BY_COURTYARDS = "class-by-courtyards"
    # Of a part.
    PRICES_UNQUOTED = "prices-unquoted"
    PRICES_GUESSED = "prices-guessed"
    NOT_SEEN = "not-seen"
    ONE_MAKER = "one-maker"
    ALSO_TAKES = "also-takes"
    SAME_LANDS = "same-lands"
    DESIGNED = "designed"
    LANDS_MOVED = "lands-moved"
    FIELD_NOT_COUNTED = "field-not-counted"
    # Of the choice for the whole board.
    NOTHING_TO_CHOOSE = "nothing-to-choose"
    STOPPED_EARLY = "stopped-early"
    EACH_BY_ITSELF = "each-by-itself"
    LIMITS_CONFLICT = "limits-conflict"
    CHANGE_NOT_SETTLED = "change-not-settled"
    NO_CHOICE = "no-choice"
    NOT_REGROUPED = "not-regrouped"
    NOT_COMPARED = "not-compared"


@dataclass(frozen=True, kw_only=True)
class Note:
    """One note.

    Parameters
    ----------
    key : NoteKey
    of : str
        The one thing it is about: an outline, a function, a unit of money.
    names : tuple of str
        The many: references, outlines, rates.
    limits : tuple of Limit
    number : float
        A count, a factor, or money, as the key has it.
    says : str
        What a station says itself: how openings were designed, how far a proof went.
    """

    key: NoteKey
    of: str = ""
    names: tuple[str, ...] = ()
    limits: tuple[Limit, ...] = ()
    number: float = 0.0
    says: str = ""
