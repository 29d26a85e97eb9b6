"""Paste inspection of a line: an export of any length, read in pieces into compact arrays; what is wrong is told.

A row is left out, and counted by reason, where it can't be read; nothing is mended silently.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from landwise.errors import FileError, InputError, LandwiseError
from landwise.fabdata.inspectioncolumns import ASSUMED, InspectionColumns, inspection_columns
from landwise.fabdata.inspectiondialects import as_table
from landwise.fabdata.inspectionplaces import Apertures
from landwise.fabdata.inspectionrows import Coder, Piece, RereadError, Wanted, heading_of, pieces, text_pieces
from landwise.fabdata.inspectionunits import in_units, under

Array = NDArray[np.float64]
Codes = NDArray[np.int32]
MOST_ROWS = 20_000_000
MOST_VOLUME = 4.0  # share of the aperture's volume; more is no deposit but a fault of the measurement
USUAL = (0.2, 2.0)  # where the middle of a line's volumes can be: below, nothing would be soldered
MOST_OFFSET_UM = 1000.0
MOST_LEFT_OUT = 0.5  # of all rows: beyond it the mapping is wrong, not the rows
MIXED = 0.002  # of the rows in another unit than the rest: told
UNIT_GAP = 10.0  # per cent and shares differ by a hundred; a deposit differs from the middle by less than ten
MANY_AGAIN = 0.2  # share of rows measured again beyond which a repeated inspection isn't the likely cause; a judgement
_KEYS = ("panel", "figure", "part", "pin", "pad")
_NUMBERS = ("volume", "height", "area", "offset_x", "offset_y", "x", "y", "size_x", "size_y", "area_ratio")
_FORMATS = ("%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M:%S", "%m/%d/%Y %H:%M:%S", "%Y/%m/%d %H:%M:%S", "%Y%m%d %H%M%S")


@dataclass(frozen=True, eq=False)
class Inspection:
    """Deposits as measured, one element of every array each.

    Parameters
    ----------
    panel, place, part : array of int
        Codes: the print, the deposit's place on it, and its part on it.
    values : mapping of str to array
        `volume` and `area` in shares of the aperture's, `height`, `offset_x`, `offset_y` in µm, `x`, `y`, `size_x`,
        `size_y` in mm, `area_ratio`; nan where a cell is empty.
    hours : array or None
        By panel: time since the first panel. [h]
    columns : InspectionColumns
    rows : int
        Read from the file.
    left_out : mapping of str to int
        Rows by reason.
    notes : tuple of str
        What was taken to be so, and what looks wrong.
    """

    panel: Codes
    place: Codes
    part: Codes
    values: Mapping[str, Array]
    hours: Array | None
    columns: InspectionColumns
    rows: int
    left_out: Mapping[str, int]
    notes: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.panel)


def read_inspection(
    path: str | Path,
    own: Mapping[str, str] | None = None,
    *,
    foil_um: float | None = None,
    apertures: Apertures | None = None,
) -> Inspection:
    """Read a paste inspection's export.

    Parameters
    ----------
    path : str or Path
        CSV with a header (comma, semicolon or tab), Parquet, or a folder of such CSVs; see `inspectiondialects` for
        the odd ones.
    own : mapping of str to str
        See `inspection_columns`.
    foil_um : float, optional
        Foil, for area ratios from sizes and shares from absolute volumes. [µm]
    apertures : Apertures, optional
        Of the paste film that was printed: deposits are laid on them by their x and y, image by image, and take area
        ratio and aperture from there. Their own columns of sizes are then not used.

    Raises
    ------
    FileError
        Missing, empty, not text, or more than 20 million rows.
    InputError
        If columns are missing, or more than half of the rows can't be read.

    Notes
    -----
    Offsets in per cent are read as shares of the deposit's size along that axis. An area ratio from sizes is that of a
    rectangle, `L·W ÷ (2·(L + W)·foil)`; a circle has the same as its square.
    """
    path = Path(path)
    with as_table(path) as (table, met):
        try:
            found = _read(table, own, foil_um, apertures)
        except LandwiseError as error:
            if table != path:
                error.file = path.name  # not that of the table that was laid out from it
            raise
    return replace(found, notes=(*met, *found.notes))


def _read(path: Path, own: Mapping[str, str] | None, foil_um: float | None, apertures: Apertures | None) -> Inspection:
    """The same of a plain table."""
    header, delimiter = heading_of(path)
    try:
        columns = inspection_columns(header, own)
    except InputError as error:
        raise error.within(file=path.name) from None
    place_names = [name for name in _KEYS[1:] if name in columns.fields]
    if not set(_KEYS[2:]) & set(place_names):
        # Without names a deposit's place is where it lies.
        place_names += [name for name in ("x", "y") if name in columns.fields]
    if not set(place_names) - {"figure"}:
        raise InputError(
            "deposits of a panel can't be told apart",
            file=path.name,
            found=", ".join(columns.fields.values()),
            expected="columns part, pin or pad, or x and y (--column)",
        )
    keys = {name: columns.fields[name] for name in ("panel", *place_names)}
    numbers = [name for name in _NUMBERS if name in columns.fields]
    found, rows, short = _found(path, delimiter, header, columns, keys, numbers)
    left: dict[str, int] = {}
    _count(left, "not as many cells as the header", short)
    panel, panels = found.codes["panel"], found.coders["panel"]
    place = _joined([found.codes[name] for name in place_names])
    part = _joined([found.codes[name] for name in ("figure", "part") if name in found.codes] or [0 * panel])
    notes = [
        f"{name}: the heading has no unit, taken as {ASSUMED[name]}; say --column {name}='HEADING [unit]' otherwise"
        for name in columns.assumed
    ]
    sizes = None
    if apertures is not None:
        image = found.codes.get("figure", 0 * panel)
        sizes, told = under(apertures, columns, place, image, found.values, path.name)
        notes += told
    values, told = in_units(found.values, columns, foil_um, sizes, path.name)
    notes += told
    # Far down a plain file nothing has looked for headers: one that comes again there is its own panel by name.
    headers = (panel == panels.known.get(columns.fields["panel"], -1)) & ~np.isfinite(values["volume"])
    _count(left, "the header again", headers.sum())
    good, mixed = _good(values, panel, place, panels, left, ~headers)
    notes += mixed
    usual = float(np.median(values["volume"][good])) if good.any() else 0.0
    if good.any() and not USUAL[0] <= usual <= USUAL[1]:
        raise InputError(
            "the volumes are in another unit, or the apertures are",
            file=path.name,
            place=columns.table()["volume"],
            found=f"half of them below {usual:.3g} of the aperture's",
            expected=f"{USUAL[0]:.0%} to {USUAL[1]:.0%}; say --column volume='HEADING [unit]', and check the foil",
        )
    if good.sum() < (1 - MOST_LEFT_OUT) * rows:
        gone = "; ".join(f"{count} {why}" for why, count in left.items() if count)
        raise InputError(
            "most rows can't be used", file=path.name, found=gone, expected="other columns or units (--column)"
        )
    hours, jumps = _hours(found.clock, len(panels.known)) if {"date", "time"} & set(columns.fields) else (None, [])
    return Inspection(
        panel=panel[good],
        place=place[good],
        part=part[good],
        values={name: array[good] for name, array in values.items()},
        hours=hours,
        columns=columns,
        rows=rows,
        left_out={why: count for why, count in left.items() if count},
        notes=(*notes, *jumps),
    )


@dataclass(frozen=True, eq=False)
class _Found:
    """All whole rows of a file, in its own units."""

    codes: dict[str, Codes]
    coders: dict[str, Coder]
    values: dict[str, Array]
    clock: dict[int, str]


def _found(
    path: Path,
    delimiter: str,
    header: Sequence[str],
    columns: InspectionColumns,
    keys: Mapping[str, str],
    numbers: Sequence[str],
) -> tuple[_Found, int, int]:
    """All whole rows, how many rows there are, and how many of them are short."""
    for read in (pieces, text_pieces):
        wanted = Wanted(
            keys=keys,
            numbers={name: columns.fields[name] for name in numbers},
            moments=[columns.fields[name] for name in ("date", "time") if name in columns.fields],
            coders={name: Coder() for name in keys},
        )
        clock: dict[int, str] = {}
        held: list[Piece] = []
        rows = short = 0
        try:
            for piece in read(path, delimiter, header, wanted):
                rows, short = rows + piece.rows, short + piece.short
                if rows > MOST_ROWS:
                    raise FileError("too many rows", file=str(path), expected=f"at most {MOST_ROWS}")
                clock = {**piece.moments, **clock}
                held.append(piece)
        except RereadError:
            continue
        break
    if rows == short:
        if short:
            raise FileError(
                "no whole row below the header", file=str(path), found=f"{short} with too few or more cells"
            )
        raise FileError("no rows below the header", file=str(path))
    codes = {name: np.concatenate([piece.codes[name] for piece in held]) for name in keys}
    values = {
        name: np.concatenate([piece.numbers[k] for piece in held]).astype(float) for k, name in enumerate(numbers)
    }
    return _Found(codes, dict(wanted.coders), values, clock), rows, short


def _joined(codes: Sequence[Codes]) -> Codes:
    """One running number for each combination that occurs."""
    whole = codes[0].astype(np.int64)
    for more in codes[1:]:
        whole = whole * (int(more.max(initial=0)) + 1) + more
        # Few combinations occur of the many that could: the numbers stay small.
        top = int(whole.max(initial=0)) + 1
        if top > 4 * len(whole) + 1_000_000:
            whole = np.unique(whole, return_inverse=True)[1]
    seen = np.zeros(int(whole.max(initial=0)) + 1, dtype=np.int32)
    seen[whole] = 1
    return (np.cumsum(seen, dtype=np.int32) - 1)[whole]


def _count(left: dict[str, int], why: str, count: int) -> None:
    left[why] = left.get(why, 0) + int(count)


def _good(
    values: Mapping[str, Array],
    panel: Codes,
    place: Codes,
    panels: Coder,
    left: dict[str, int],
    rows: NDArray[np.bool_],
) -> tuple[NDArray[np.bool_], list[str]]:
    """Those of the `rows` that can be used; the others are counted, and what they may mean is noted."""
    notes: list[str] = []
    volume = values["volume"]
    good = np.isfinite(volume)
    _count(left, "no number for the volume", (rows & ~good).sum())
    middle = float(np.median(volume[good & (volume > 0)])) if (good & (volume > 0)).any() else 1.0
    other = good & (volume > 0) & ((volume < middle / (2 * UNIT_GAP)) | (volume > middle * UNIT_GAP))
    # A print that misses gives volumes near nothing; a unit gives a second heap a hundred times away.
    heap = other & (np.abs(np.log10(np.maximum(volume, 1e-12) / middle)) > 1.5)
    if heap.sum() > MIXED * good.sum():
        notes.append(
            f"mixed units? {int(heap.sum())} volumes lie a hundred times from the middle of the rest; they are left out"
        )
        _count(left, "volume in another unit than the rest", heap.sum())
        good &= ~heap
    wild = good & ((volume < 0) | (volume > MOST_VOLUME))
    _count(left, f"volume below 0 or above {MOST_VOLUME:.0%} of the aperture's", wild.sum())
    good &= ~wild
    for name in ("offset_x", "offset_y"):
        if name in values:
            far = good & (np.abs(values[name]) > MOST_OFFSET_UM)
            _count(left, "offset of more than 1 mm", far.sum())
            good &= ~far
    again = _again(panel, place)
    if (again & good).any():
        named = list(panels.known)
        shown = ", ".join(str(named[k]) for k in np.unique(panel[again & good])[:5])
        notes.append(f"deposits of a panel stand there more than once (panels {shown}, …); the first measure is kept")
        if (again & good).sum() > MANY_AGAIN * good.sum():
            notes.append(
                "more than one row in five is such a second measure: rows of two boards? one file for each board"
            )
        _count(left, "measured again", (again & good).sum())
        good &= ~again
    twins = _twins(volume, panel, good, len(panels.known))
    if twins.any():
        named = list(panels.known)
        shown = ", ".join(str(named[k]) for k in np.flatnonzero(twins)[:5])
        notes.append(f"panels with the very numbers of an earlier one are left out: {shown}")
        copied = twins[panel] & good
        _count(left, "copy of another panel", copied.sum())
        good &= ~copied
    return good, notes


def _again(panel: Codes, place: Codes) -> NDArray[np.bool_]:
    """Whether a place of a panel was there before, in the file's order."""
    key = panel.astype(np.int64) * (int(place.max()) + 1) + place
    again = np.ones(len(key), dtype=bool)
    again[np.unique(key, return_index=True)[1]] = False
    return again


def _twins(volume: Array, panel: Codes, good: NDArray[np.bool_], panels: int) -> NDArray[np.bool_]:
    """Panels whose volumes are those of an earlier one, told by their count, sum and sum of squares."""
    count, one, two = (
        np.bincount(panel[good], weights, panels) for weights in (None, volume[good], np.square(volume[good]))
    )
    seen: set[tuple[float, float, float]] = set()
    found = np.zeros(panels, dtype=bool)
    for k in range(panels):
        mark = (float(count[k]), float(one[k]), float(two[k]))
        # Ten deposits with equal sums by chance would need equal measures to the last digit.
        found[k] = count[k] >= 10 and mark in seen
        seen.add(mark)
    return found


def _hours(clock: Mapping[int, str], panels: int) -> tuple[Array | None, list[str]]:
    """Hours of every panel since the first, and jumps of the clock."""
    texts = [clock.get(k, "") for k in range(panels)]
    stamps = np.array([_moment(text) for text in texts])
    if np.isfinite(stamps).mean() < 0.5:
        return None, [f"times can't be read, such as {texts[0]!r}: no ageing over the shift"]
    notes = []
    known = np.flatnonzero(np.isfinite(stamps))
    back = np.flatnonzero(np.diff(stamps[known]) < 0)
    if back.size:
        notes.append(f"the clock jumps back {back.size} times in the file's order; each jump begins a new shift")
    hours: Array = (stamps - stamps[known[0]]) / 3600
    return hours, notes


def _moment(text: str) -> float:
    try:
        return datetime.fromisoformat(text.replace("/", "-")).replace(tzinfo=UTC).timestamp()
    except ValueError:
        pass
    for form in _FORMATS:
        try:
            return datetime.strptime(text, form).replace(tzinfo=UTC).timestamp()
        except ValueError:
            continue
    return float("nan")
