"""Notes in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType

from landwise.board.model import NOTHING_TO_CHOOSE
from landwise.judging.notes import Note, NoteKey
from landwise.results.limitwords import limit_says

MOST_NAMED = 4


def note_says(note: Note) -> str:
    """A note in one sentence.

    >>> note_says(Note(key=NoteKey.ONE_MAKER, of="SO-14"))
    'one maker alone offers it in SO-14'
    """
    says = _WORDS[note.key]
    return says if isinstance(says, str) else says(note)


def notes_say(notes: Iterable[Note]) -> list[str]:
    """Notes in words, in their order."""
    return [note_says(note) for note in notes]


def _names(note: Note) -> str:
    return ", ".join(note.names)


def _first_names(note: Note) -> str:
    more = f" and {len(note.names) - MOST_NAMED} more" if len(note.names) > MOST_NAMED else ""
    return ", ".join(note.names[:MOST_NAMED]) + more


def _also_takes(note: Note) -> str:
    worth = f", worth about {note.number:.3g} a piece to the buyer" if note.number > 0 else ""
    return f"the lands of {note.of} also take {_names(note)}{worth}"


_WORDS: Mapping[NoteKey, str | Callable[[Note], str]] = MappingProxyType(
    {
        NoteKey.PRESENT_UNKNOWN: lambda note: (
            f"the package in use is not known for {_names(note)}: left out of the board totals"
        ),
        NoteKey.NOTHING_FITS: lambda note: f"no option fits the limits for {_names(note)}",
        NoteKey.RATES_ASSUMED: lambda note: (
            f"{len(note.names)} cost rates are assumptions of ours ({_names(note)}): put your own into [costs.rates]"
        ),
        NoteKey.PRICES_FAR_OFF: lambda note: (
            f"prices are about {note.number:.3g} times what logic of this size costs on the scale of the rates: state"
            f" costs.rate_factor (one US dollar in {note.of}) or your own rates"
        ),
        NoteKey.OTHER_MONEY: lambda note: (
            f"the shipped rates are in about US dollars, the study in {note.of}: state costs.rate_factor"
        ),
        NoteKey.NOT_TOGETHER: (
            "each part is chosen alone under the line as given; parts that share a step or a better foil are not yet"
            " chosen together"
        ),
        NoteKey.NOT_JUDGED: lambda note: (
            f"stopped while judging: {_first_names(note)} stay as they are, or are left out where the package in use is"
            " not known"
        ),
        NoteKey.CLASS_BY_COURTYARDS: (
            "a class of board is bought for the whole board; without its size only the courtyards of these parts carry"
            " what a class costs more: state length and width of [board]"
        ),
        NoteKey.PRICES_UNQUOTED: (
            "nobody quoted a price: packages differ by ratios of one list of May 2026, the level is an assumption;"
            " each has a wide band"
        ),
        NoteKey.PRICES_GUESSED: lambda note: (
            f"{note.number:.0f} options have no quoted price: theirs are guessed from {_names(note)} by ratios of one"
            " list of May 2026, with a band"
        ),
        NoteKey.NOT_SEEN: lambda note: (
            f"left out, since {note.of} was not seen in them (which does not mean that nobody makes it):"
            f' {_first_names(note)}; offers or supply = "any" bring them in'
        ),
        NoteKey.FIELD_NOT_COUNTED: lambda note: (
            f"failures in the field are not counted: nothing measured anchors the life of {', '.join(note.names)}"
        ),
        NoteKey.ONE_MAKER: lambda note: f"one maker alone offers it in {note.of}",
        NoteKey.ALSO_TAKES: _also_takes,
        NoteKey.SAME_LANDS: lambda note: f"{note.of} fits the lands that the board has",
        NoteKey.DESIGNED: lambda note: f"{note.of}: {note.says}",
        NoteKey.LANDS_MOVED: lambda note: f"{note.of}: {note.says}",
        NoteKey.NOTHING_TO_CHOOSE: NOTHING_TO_CHOOSE,
        NoteKey.STOPPED_EARLY: (
            "stopped while judging: this is the best board under today's line; other foils, powders, plans and classes"
            " were not weighed"
        ),
        NoteKey.EACH_BY_ITSELF: "no board keeps every limit: each part stands by itself",
        NoteKey.LIMITS_CONFLICT: lambda note: (
            f"no choice keeps every limit together: {', '.join(map(limit_says, note.limits))} conflict"
        ),
        NoteKey.CHANGE_NOT_SETTLED: lambda note: (
            f"the least change of {', '.join(map(limit_says, note.limits))} that makes the board possible was not"
            " settled in the time"
        ),
        NoteKey.NO_CHOICE: lambda note: note.says,
        NoteKey.NOT_REGROUPED: lambda note: note.says,
        NoteKey.NOT_COMPARED: lambda note: note.says,
    }
)
