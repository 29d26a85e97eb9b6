"""In which packages the gates of parts near each other could come: every way, with what it ties off and moves.

Only planned here, from the study alone; what each way costs is worked by `regroup`.

Longer than other modules: what may be merged, split and not touched is one set of rules, read from top to bottom.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from landwise.costs.board import area_loads
from landwise.costs.loads import Line, Load
from landwise.errors import InputError
from landwise.fabdata.functions import known
from landwise.fabdata.gatekinds import Kind, bare_words, core_of, kinds_of, signals_of
from landwise.judging.bench import Bench
from landwise.study.file import PartTable, RegroupTable

MOST_ELEMENTS = 8  # gates of one set: assigning more to packages would take longer than all else
CAPACITOR_MM2 = 2.0  # courtyard of a 1.0 × 0.5 mm chip capacitor, about 1.9 × 1.0 mm (from memory)


@dataclass(frozen=True)
class Element:
    """The least that moves as one: a gate, or the bits that share their controls."""

    ref: str
    at: tuple[float, float] | None


@dataclass(frozen=True)
class Way:
    """One way to package the gates of a set.

    Parameters
    ----------
    parts : tuple of PartTable
        What is then on the board, a part number each.
    counts : mapping of str to int
        Packages by number.
    beside : tuple of tuple of Load
        What each part pays in any package: decoupling, tie-offs, tracks.
    unused : int
        Gates, or bits, tied off.
    nets_moved : int
        Nets that end at another place than today.
    track_mm : float or None
        How much longer tracks get, at most; None where places are not known.
    today : bool
        Whether it is as the study has it.
    """

    parts: tuple[PartTable, ...]
    counts: Mapping[str, int]
    beside: tuple[tuple[Load, ...], ...]
    unused: int
    nets_moved: int
    track_mm: float | None
    today: bool

    @property
    def packages(self) -> int:
        """How many packages it takes."""
        return sum(self.counts.values())

    @property
    def says(self) -> str:
        """Its packages in words."""
        return " + ".join(f"{count} × {number}" for number, count in self.counts.items())


@dataclass(frozen=True)
class GateSet:
    """Parts whose gates may be grouped otherwise; the first way is today's."""

    parts: tuple[PartTable, ...]
    ways: tuple[Way, ...]

    @property
    def refs(self) -> tuple[str, ...]:
        """All references of its parts."""
        return tuple(ref for part in self.parts for ref in part.refs)


def gate_sets(bench: Bench) -> tuple[tuple[GateSet, ...], tuple[str, ...]]:
    """The sets of a study that have more than one way, and in words what is not proposed and why.

    Raises
    ------
    InputError
        For a reference that is not there, one in two sets, or a set of too many gates.
    """
    content = bench.content
    named = {ref: part for part in content.part for ref in part.refs}
    for part in content.part:
        for ref in part.apart:
            if ref not in named:
                raise InputError("no such reference", place=f"[[part]] {part.refs[0]}, apart", found=ref)
    told: list[str] = []
    sets, taken = [], set[str]()
    for table, parts in (*_marked(content.regroup, named), *_near(bench)):
        for own in _alike(parts, table, told):
            again = taken & {part.refs[0] for part in own}
            if again and table.refs:
                raise InputError("a part stands in two sets", place="[[regroup]], refs", found=sorted(again)[0])
            if again:
                continue
            taken |= {part.refs[0] for part in own}
            made = _set(own, table, bench, told)
            if made is not None:
                sets.append(made)
    return tuple(sets), tuple(dict.fromkeys(told))


def _marked(
    tables: Sequence[RegroupTable], named: Mapping[str, PartTable]
) -> Iterator[tuple[RegroupTable, list[PartTable]]]:
    for table in tables:
        for ref in table.refs:
            if ref not in named:
                raise InputError(
                    "no such reference", place="[[regroup]], refs", found=ref, expected="one of a [[part]]"
                )
        yield table, list({id(part): part for part in (named[ref] for ref in table.refs)}.values())


def _near(bench: Bench) -> Iterator[tuple[RegroupTable, list[PartTable]]]:
    """Parts whose places all lie within reach of each other, each joined to the first group that it fits."""
    within = bench.content.want.regroup_within
    if within is None:
        return
    marked = {ref for table in bench.content.regroup for ref in table.refs}
    free = [
        part
        for part in bench.content.part
        if part.fitted and len(part.at) == len(part.refs) and not marked & set(part.refs)
    ]
    while free:
        group = [free.pop(0)]
        for part in list(free):
            if _key(part) == _key(group[0]) and all(_apart_mm(part, other) <= within for other in (*group, part)):
                group.append(part)
                free.remove(part)
        if sum(len(part.refs) for part in group) > 1:
            yield RegroupTable.model_construct(refs=[], kinds=[]), group


def _apart_mm(one: PartTable, other: PartTable) -> float:
    return max(math.dist(a, b) for a in one.at.values() for b in other.at.values())


def _key(part: PartTable) -> tuple[object, ...]:
    """What gates must agree in to share a package."""
    function = known(part.number.upper(), part.family.upper())
    words = bare_words(function.words) if function else part.function
    return core_of(part.number), words, part.family.upper(), part.supply, part.timing


def _alike(parts: Sequence[PartTable], table: RegroupTable, told: list[str]) -> list[list[PartTable]]:
    """Parts of one set that may share packages; in words what keeps others out."""
    groups: dict[tuple[object, ...], list[PartTable]] = {}
    for part in parts:
        why = (
            "it is not fitted"
            if not part.fitted
            else "it is locked"
            if part.locked
            else "its outline is tied to its group"
            if part.group
            else "its alternates are named"
            if part.alternates
            else ""
        )
        if why:
            told.append(f"{part.refs[0]} is not regrouped: {why}")
            continue
        groups.setdefault(_key(part)[2:] if table.kinds else _key(part), []).append(part)
    keys = list(groups)
    for key in keys[1:]:
        reasons = ("function", "function", "family", "supply", "timing group")[-len(key) :]
        differs = dict.fromkeys(word for word, mine, other in zip(reasons, key, keys[0], strict=True) if mine != other)
        told.append(
            f"{groups[key][0].refs[0]} never shares a package with {groups[keys[0]][0].refs[0]}:"
            f" another {' and '.join(differs)}"
        )
    return list(groups.values())


def _set(parts: Sequence[PartTable], table: RegroupTable, bench: Bench, told: list[str]) -> GateSet | None:
    own = {part.number.upper() for part in parts}
    kinds = _kinds(parts, table)
    if not own <= {kind.number for kind in kinds}:
        if table.refs:
            told.append(
                f"{parts[0].refs[0]} is not regrouped: what else holds its function is not known; name [[regroup]]"
                " kinds"
            )
        return None
    by_number = {kind.number: kind for kind in kinds}
    step = math.gcd(*(kind.units for kind in kinds))
    elements = []
    for part in parts:
        units = by_number[part.number.upper()].units
        used = part.gates or units
        if used > units:
            raise InputError(
                "more gates used than a package holds", place=f"[[part]] {part.refs[0]}, gates", found=str(used)
            )
        for ref in part.refs:
            elements += [Element(ref, part.at.get(ref))] * math.ceil(used / step)
    if len(elements) > MOST_ELEMENTS:
        raise InputError(
            "too many gates in one set",
            place=f"[[regroup]] of {parts[0].refs[0]}",
            found=str(len(elements)),
            expected=f"at most {MOST_ELEMENTS}: mark smaller sets, of the parts nearest each other",
        )
    if len(elements) == 1 and own == {min(kinds, key=lambda kind: kind.units).number}:
        return None  # one gate in the smallest package that holds one: nothing to share, nothing to split
    if parts[0].timing:
        told.append(f"the gates of timing group {parts[0].timing} come in one package or stay as they are")
    plan = _Plan(tuple(parts), tuple(elements), step, by_number, bench)
    ways = [plan.today()]
    for counts in plan.counts():
        why, way = plan.way(counts)
        if way is not None:
            ways.append(way)
        elif why:
            told.append(why)
    return GateSet(tuple(parts), tuple(ways)) if len(ways) > 1 else None


def _kinds(parts: Sequence[PartTable], table: RegroupTable) -> tuple[Kind, ...]:
    if not table.kinds:
        return kinds_of(parts[0].number, parts[0].family.upper())
    found = []
    for kind in table.kinds:
        number = kind.number.upper()
        function = known(number, parts[0].family.upper())
        terminals = kind.terminals or (function.terminals if function else None)
        if terminals is None:
            raise InputError("it is not known how many terminals it has", place="[[regroup]], kinds", found=kind.number)
        found.append(Kind(number, kind.units, terminals, function.words if function else parts[0].function))
    for part in parts:
        own = [kind for kind in kinds_of(part.number, part.family.upper()) if kind.number == part.number.upper()]
        found += [kind for kind in own if kind.number not in {one.number for one in found}]
    return tuple(sorted(found, key=lambda kind: kind.units))


@dataclass(frozen=True)
class _Plan:
    """A set on its way to packages."""

    parts: tuple[PartTable, ...]
    elements: tuple[Element, ...]
    step: int
    kinds: Mapping[str, Kind]
    bench: Bench

    @property
    def _nets(self) -> float:
        """Signals of one element."""
        smallest = min(self.kinds.values(), key=lambda kind: kind.units)
        return signals_of(smallest) * self.step / smallest.units

    def counts(self) -> Iterator[dict[str, int]]:
        """Every list of packages that takes all gates and none of which could be left away, other than today's."""
        needed = len(self.elements) * self.step
        names = sorted(self.kinds, key=lambda name: (-self.kinds[name].units, name))
        today = self._today_counts()

        def listed(at: int, left: int, taken: dict[str, int]) -> Iterator[dict[str, int]]:
            if left <= 0:
                yield taken
            elif at < len(names):
                units = self.kinds[names[at]].units
                for count in range(math.ceil(left / units), -1, -1):
                    more = {**taken, names[at]: count} if count else taken
                    yield from listed(at + 1, left - count * units, more)

        for counts in listed(0, needed, {}):
            smallest = min(self.kinds[name].units for name in counts)
            spare = sum(self.kinds[name].units * count for name, count in counts.items()) - needed
            timed = self.parts[0].timing and sum(counts.values()) > 1
            if spare < smallest and counts != today and not timed:
                yield counts

    def _today_counts(self) -> dict[str, int]:
        counts: dict[str, int] = {}
        for part in self.parts:
            number = part.number.upper()
            counts[number] = counts.get(number, 0) + len(part.refs)
        return dict(sorted(counts.items(), key=lambda pair: (-self.kinds[pair[0]].units, pair[0])))

    def today(self) -> Way:
        """As the study has it."""
        beside, unused = [], 0
        for part in self.parts:
            kind = self.kinds[part.number.upper()]
            spare = (kind.units - (part.gates or kind.units)) * len(part.refs)
            unused += spare
            beside.append(self._beside(len(part.refs), spare))
        placed = all(one.at is not None for one in self.elements)
        return Way(self.parts, self._today_counts(), tuple(beside), unused, 0, 0.0 if placed else None, True)

    def way(self, counts: Mapping[str, int]) -> tuple[str, Way | None]:
        """One way with its gates in the packages that move them least; in words why it is none."""
        packages = [name for name, count in counts.items() for _ in range(count)]
        said = " + ".join(f"{count} × {number}" for number, count in counts.items())
        blocks = self._assigned(tuple(self.kinds[name].units // self.step for name in packages))
        if blocks is None:
            return (
                f"{said} for {self.parts[0].refs[0]} is not proposed: parts that must stay apart would share it",
                None,
            )
        made, beside, moved, length = [], [], 0, 0.0
        names: set[str] = set()
        placed = all(one.at is not None for one in self.elements)
        for number, count in counts.items():
            own = [blocks[n] for n, name in enumerate(packages) if name == number]
            spare = sum(self.kinds[number].units - len(block) * self.step for block in own)
            nets = sum(self._moved(block) for block in own)
            track = sum(self._length(block) for block in own) * self._nets
            made.append(self._part(number, own, names))
            beside.append(self._beside(count, spare, round(nets * self._nets), track if placed else None))
            moved, length = moved + round(nets * self._nets), length + track
        if self.bench.content.board.state == "existing":
            fresh = sum(part.number.upper() not in self._today_counts() for part in made)
            change = Load(Line.CHANGE, ("change",), float(max(1, fresh)), per_run=True)
            beside[0] = (*beside[0], change)
        unused = sum(self.kinds[name].units * count for name, count in counts.items())
        unused -= len(self.elements) * self.step
        way = Way(tuple(made), dict(counts), tuple(beside), unused, moved, length if placed else None, False)
        return "", way

    def _beside(self, packages: int, spare: int, nets: int = 0, track_mm: float | None = None) -> tuple[Load, ...]:
        """What packages of one number pay whatever their outline."""
        content = self.bench.content
        board, smallest = content.board, min(self.kinds.values(), key=lambda kind: kind.units)
        loads = [
            Load(Line.DECOUPLING, ("decoupling",), float(packages)),
            Load(Line.DECOUPLING, ("placement",), float(packages)),
        ]
        if board.area_is_money:
            room = area_loads(packages * CAPACITOR_MM2, board.layers)
            loads += [Load(Line.DECOUPLING, load.rates, load.units) for load in room]
        inputs = max(1, round(signals_of(smallest) / smallest.units) - 1)
        if spare:
            loads.append(Load(Line.TIE_OFF, ("tie_off",), float(spare * inputs)))
        by_net = track_mm is None or not board.area_is_money or "net_moved" in content.costs.rates
        if by_net and nets:
            loads.append(Load(Line.TRACKS, ("net_moved",), float(nets)))
        elif not by_net and track_mm:
            # A track takes its width and one gap, on one of the layers.
            room = area_loads(track_mm * (board.track + board.space) / board.layers, board.layers)
            loads += [Load(Line.TRACKS, load.rates, load.units) for load in room]
        return tuple(loads)

    def _assigned(self, sizes: tuple[int, ...]) -> tuple[tuple[int, ...], ...] | None:
        """Elements of each package so that what moves is shortest; None where parts that stay apart forbid it."""
        whole = (1 << len(self.elements)) - 1
        cost = {mask: self._cost(_bits(mask)) for mask in range(1, whole + 1)}

        @cache
        def best(at: int, left: int) -> tuple[float, tuple[int, ...]]:
            if at == len(sizes):
                return (0.0, ()) if not left else (math.inf, ())
            found: tuple[float, tuple[int, ...]] = (math.inf, ())
            block = left
            while block:
                if block.bit_count() <= sizes[at] and cost[block] < math.inf:
                    rest, others = best(at + 1, left & ~block)
                    if cost[block] + rest < found[0] - 1e-12:
                        found = (cost[block] + rest, (block, *others))
                block = (block - 1) & left
            return found

        value, masks = best(0, whole)
        return None if value == math.inf else tuple(_bits(mask) for mask in masks)

    def _cost(self, block: tuple[int, ...]) -> float:
        own = {self.elements[n].ref for n in block}
        for part in self.parts:
            if any(ref in own and own & set(part.apart) - {ref} for ref in part.refs):
                return math.inf
        # By length first; where places are not known, by gates that move.
        return self._length(block) + 1e-3 * self._moved(block)

    def _centre(self, block: tuple[int, ...]) -> Element:
        """The place of the gate that the others are nearest to."""
        there = [self.elements[n] for n in block]
        return min(
            there, key=lambda one: (sum(_dist(one, other) for other in there), -sum(o.ref == one.ref for o in there))
        )

    def _length(self, block: tuple[int, ...]) -> float:
        centre = self._centre(block)
        return sum(_dist(centre, self.elements[n]) for n in block)

    def _moved(self, block: tuple[int, ...]) -> int:
        centre = self._centre(block)
        return sum(self.elements[n].ref != centre.ref for n in block)

    def _part(self, number: str, blocks: Sequence[tuple[int, ...]], names: set[str]) -> PartTable:
        """The part of one number; what its gates dissipate goes with them."""
        first = next((part for part in self.parts if part.number.upper() == number), self.parts[0])
        kind, same = self.kinds[number], first.number.upper() == number
        refs, at = [], {}
        for block in blocks:
            centre = self._centre(block)
            ref = next(name for name in _names(centre.ref) if name not in names)
            names.add(ref)
            refs.append(ref)
            if centre.at is not None:
                at[ref] = centre.at
        by_ref = {ref: part for part in self.parts for ref in part.refs}
        members = [[by_ref[self.elements[n].ref] for n in block] for block in blocks]
        power = [sum(self._share(part) for part in some) for some in members]
        told = any(part.power is not None for part in self.parts)
        options = self._options(number, first, same)
        update: dict[str, object] = {
            "refs": refs,
            "number": number,
            "function": first.function if same and first.function else kind.words,
            "terminals": kind.terminals,
            "package": first.package if same else "",
            "price": first.price if same else None,
            "options": options,
            "at": at,
            "gates": None,
            "power": max(power) if told else None,
            "outputs": max(len(some) for some in members) * self.step if first.frequency is not None else None,
            "load": max(part.load for part in self.parts),
            "frequency": max((part.frequency for part in self.parts if part.frequency is not None), default=None),
            "moisture_level": first.moisture_level if same else "",
            "ground": first.ground if same else [],
            "guesses": [],
        }
        return first.model_copy(update=update)

    def _share(self, part: PartTable) -> float:
        """What one element of a part dissipates. [W]"""
        units = self.kinds[part.number.upper()].units
        return (part.power or 0.0) / math.ceil((part.gates or units) / self.step)

    def _options(self, number: str, first: PartTable, same: bool) -> object:
        for table in self.bench.content.regroup:
            if set(table.refs) & {ref for part in self.parts for ref in part.refs}:
                for kind in table.kinds:
                    if kind.number.upper() == number and kind.options != "any":
                        return kind.options
        return first.options if same else "any"


def _bits(mask: int) -> tuple[int, ...]:
    return tuple(n for n in range(mask.bit_length()) if mask >> n & 1)


def _dist(one: Element, other: Element) -> float:
    return 0.0 if one.at is None or other.at is None else math.dist(one.at, other.at)


def _names(ref: str) -> Iterator[str]:
    yield ref
    for number in range(2, MOST_ELEMENTS + 2):
        yield f"{ref}-{number}"
