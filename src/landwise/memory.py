"""What was worked before, by what it follows from: for callers that ask nearly the same again and again.

The engine gives the same numbers with and without it; a test compares whole results. What it keeps is bounded,
and the longest unused goes first. `known` keeps what is dear to work and follows from plain content (rates, process
windows), in this process and, once a command says so, on disk; `Memory` keeps geometry and figures for one engine,
and hands them to the next run of a command on the same board.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from typing import Any, TypeVar

from landwise.disk import Disk, cache_folder

MOST_SHELVES = 200  # prints whose geometry is kept
MOST_RECALLED = 8_000  # sets of figures and rankings
MOST_KEPT = 2_000  # of them on disk, some 50 MB to read: more are sooner worked by several processes

T = TypeVar("T")


class Memory:
    """Geometry by print, and anything else by its key.

    Examples
    --------
    >>> memory = Memory()
    >>> memory.recalled("two", None, lambda: 1 + 1), memory.recalled("two", None, lambda: 0)
    (2, 2)
    """

    def __init__(self) -> None:
        self._turn = threading.Lock()
        # whatever a caller keeps under its own key; it knows what it kept
        self._shelves: OrderedDict[Hashable, dict[Any, Any]] = OrderedDict()
        # whatever a caller keeps under its own key; it knows what it kept
        self._recalled: OrderedDict[tuple[Hashable, int], tuple[object, Any]] = OrderedDict()
        self._asked: set[Hashable] = set()  # what this run needed
        self._anew = False  # whether anything of it had to be made, but from what lay there
        self._recalls = 0
        self._taken_up: set[str] = set()

    @classmethod
    def left_by(cls, board: str) -> Memory:
        """With what the last run on a board left on disk; empty where nothing is left, or nothing is kept on disk.

        Parameters
        ----------
        board : str
            Names the board. What was left is taken only where all that it follows from is asked for again.
        """
        memory = cls()
        memory.take_up(board)
        return memory

    def take_up(self, board: str) -> None:
        """Know what the last run on a board left on disk, beside what is known already; each board is read once.

        For who answers to many boards one after the other, such as a server.

        Parameters
        ----------
        board : str
            As `left_by`.
        """
        with self._turn:
            if board in self._taken_up:
                return
            self._taken_up.add(board)
        found = _disk[0].read_graph(f"memory of {board}") if _disk else None
        if found is None:
            return
        shelves, recalled = found
        with self._turn:
            for key, shelf in shelves:
                # What was left goes by what was left with it, and is told apart by identity: it takes the place of what
                # another board had worked here of the same print.
                self._shelves.setdefault(key, {}).update(shelf)
            for key, held, value in recalled:
                self._recalled.setdefault((key, id(held)), (held, value))
            self._trimmed()

    def _trimmed(self) -> None:
        """Let go of what was longest unused."""
        while len(self._shelves) > MOST_SHELVES:
            self._asked.discard(("shelf", self._shelves.popitem(last=False)[0]))
        while len(self._recalled) > MOST_RECALLED:
            self._asked.discard(self._recalled.popitem(last=False)[0])

    def leave(self, board: str) -> None:
        """Leave what this run needed to the next run on the board.

        Nothing is written where all of it lay there, or was made in no time from what lay there.
        """
        if not (_disk and self._anew):
            return
        with self._turn:
            shelves = [(key, shelf) for key, shelf in self._shelves.items() if ("shelf", key) in self._asked]
            recalled = [(whole[0], *found) for whole, found in self._recalled.items() if whole in self._asked]
        if len(recalled) <= MOST_KEPT:
            _disk[0].write_graph(f"memory of {board}", (shelves, recalled))
            self._anew = False

    # whatever a caller keeps under its own key; it knows what it kept
    def shelf(self, key: Hashable) -> dict[Any, Any]:
        """A dictionary of its own for a key."""
        with self._turn:
            found = self._shelves.setdefault(key, {})
            self._shelves.move_to_end(key)
            self._asked.add(("shelf", key))
            self._trimmed()
            return found

    def recalled(self, key: Hashable, held: object, make: Callable[[], T]) -> T:
        """What was made for a key, or what is made now.

        Parameters
        ----------
        key : hashable
            Everything the value follows from.
        held : object
            An object it also follows from, told apart by its identity.
        make : callable
            Makes the value.
        """
        whole = (key, id(held))
        with self._turn:
            self._recalls += 1
            before = self._recalls
            found = self._recalled.get(whole)
            if found is not None:
                self._recalled.move_to_end(whole)
                self._asked.add(whole)
                value: T = found[1]
                return value
        value = make()
        with self._turn:
            # Holding the object keeps its identity its own.
            self._recalled[whole] = (held, value)
            self._asked.add(whole)
            self._anew = self._anew or self._recalls == before  # else what was recalled on the way says it
            self._trimmed()
        return value


MOST_KNOWN = 4096  # some 10 kB each
# whatever a caller keeps under its own key; it knows what it kept
_known: OrderedDict[str, Any] = OrderedDict()
_known_turn = threading.Lock()
_disk: list[Disk] = []


def known(work: Callable[[], T], *content: object) -> T:
    """What `work` gives, worked only if the same content was not seen before, in this process or on disk.

    Parameters
    ----------
    work : callable
        Its result follows from `content` alone; None is not kept on disk.
    content : objects
        Everything that it follows from, as frozen values whose text tells them apart.

    Examples
    --------
    >>> calls = []
    >>> for _ in range(2):
    ...     known(lambda: calls.append("worked"), "an example", 0.1)
    >>> calls
    ['worked']
    """
    return known_with(lambda _: [work()], content)


def known_with(work: Callable[[Sequence[int]], Sequence[T]], *contents: tuple[object, ...]) -> T:
    """What the first of several like works gives; where it has to be worked, those of the others that are not known are
    worked with it.

    Parameters
    ----------
    work : callable
        Takes the numbers of the contents that are to be worked, and gives the results in that order.
    contents : tuples of objects
        What each follows from, as of `known`.

    Examples
    --------
    >>> def doubled(asked):
    ...     print("working", asked)
    ...     return [2 * number for number in asked]
    >>> contents = [("doubled", number) for number in range(3)]
    >>> known_with(doubled, contents[0])
    working [0]
    0
    >>> known_with(lambda asked: doubled([1 + k for k in asked]), contents[1], contents[0], contents[2])
    working [1, 3]
    2
    """
    key = repr(contents[0])
    with _known_turn:
        if key in _known:
            _known.move_to_end(key)
            before: T = _known[key]
            return before
    found = _disk[0].read(key) if _disk else None
    if found is not None:
        _keep(key, found)
        result: T = found
        return result
    asked = [0, *(k for k in range(1, len(contents)) if not is_known(*contents[k]))]
    made = work(asked)
    for k, one in zip(asked, made, strict=True):
        told = repr(contents[k])
        if _disk and one is not None:
            _disk[0].write(told, one)
        _keep(told, one)
    return made[0]


def _keep(key: str, found: object) -> None:
    with _known_turn:
        _known[key] = found
        while len(_known) > MOST_KNOWN:
            _known.popitem(last=False)


def is_known(*content: object) -> bool:
    """Whether what follows from the content need not be worked any more."""
    key = repr(content)
    with _known_turn:
        if key in _known:
            return True
    return bool(_disk) and _disk[0].holds(key)


def kept(name: str, work: Callable[[], T]) -> T:
    """What `work` gives from this version's own files alone: read back where a command of it was run before.

    For dear values of many kinds, kept as they are; nothing is kept in this process.
    """
    found = _disk[0].read_graph(name) if _disk else None
    if found is None:
        found = work()
        if _disk:
            _disk[0].write_graph(name, found)
    result: T = found
    return result


def keep_on_disk(disk: Disk | None) -> None:
    """From now on what is `known` is kept on this disk too; on none for None."""
    _disk[:] = [] if disk is None else [disk]


def kept_on() -> Disk | None:
    """Where what is `known` is kept beside this process; None for nowhere."""
    return _disk[0] if _disk else None


def keep_in_cache_folder() -> None:
    """From now on what is `known` is kept in the user's cache folder too, unless the environment says `off`."""
    folder = cache_folder()
    keep_on_disk(Disk(folder) if folder else None)


def forget() -> None:
    """Forget what is known in this process, as a new one would; what lies on disk stays."""
    with _known_turn:
        _known.clear()
