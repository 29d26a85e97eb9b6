"""What a calibration found, as a line file and as a page to read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import tomlkit
from tomlkit.items import Table

from landwise.assembly.calibration import Fitted, Learned, PrintFit
from landwise.assembly.levels import MOST_WIDE, Level, firm
from landwise.assembly.placed import PlacementFit
from landwise.assembly.scatter import Z90, default_terms
from landwise.assembly.witness import Witness
from landwise.fabdata.inspection import Inspection
from landwise.fabdata.placementchecks import PlacementChecks

_DIGITS = 4
_NARROWS, _STAYS = "as a count: it narrows the worked rates", "no: the worked rates stay"
_MORE = {
    "print_stretch": "more parts with several deposits each",
    "placement_turn": "placement checks of more boards",
}


@dataclass(frozen=True)
class Calibrated:
    """Everything that one calibration found, and from what.

    Parameters
    ----------
    fit : PrintFit
    read : Inspection
        For its columns, which are kept; None without paste inspection.
    technology, powder : str
        Whose prior was used: the transfer's place belongs to them.
    source : str
        Name of the inspection file.
    levels : sequence of Level
        Of counted defects; families whose bridges and opens are both firm become the line's own rates.
    placement : PlacementFit, optional
    checks : PlacementChecks, optional
        What the placement was fitted to.
    witnesses : sequence of Witness
        What counts on packages say of the model.
    """

    fit: PrintFit
    read: Inspection | None
    technology: str
    powder: str
    source: str
    levels: Sequence[Level] = ()
    placement: PlacementFit | None = None
    checks: PlacementChecks | None = None
    witnesses: Sequence[Witness] = ()

    @property
    def terms(self) -> tuple[Learned, ...]:
        """Terms of scatter that were learned."""
        turn = self.placement.turn if self.placement else None
        return (*self.fit.terms, *([turn] if turn else []))


def line_text(done: Calibrated) -> str:
    """The line file."""
    fit = done.fit
    document = tomlkit.document()
    document.add(tomlkit.comment(f"Written by landwise calibrate from {done.source}."))
    if done.read is not None:
        document.add(tomlkit.comment(f"{fit.panels} panels, {fit.deposits} deposits inspected."))
    document.add(tomlkit.comment("Ranges are 90 % intervals: [low, value, high]."))
    document.add(tomlkit.comment("What is not named here was not measured and stays as shipped."))
    line = tomlkit.table()
    if done.read is not None:
        line["technology"], line["powder"] = done.technology, done.powder
    if fit.print_offset_mm is not None:
        line["print_offset"] = f"{_rounded(fit.print_offset_mm.value):g} mm"
    if done.placement is not None:
        line["placement_offset"] = f"{_rounded(done.placement.offset_mm.value):g} mm"
    if fit.transfer is not None:
        line["transfer"] = _ends(fit.transfer.after)
    if done.terms:
        scatter = tomlkit.table()
        for learned in done.terms:
            unit = default_terms()[learned.name].unit
            scatter[learned.name] = [f"{value:g} {unit}" if unit else value for value in _ends(learned.after)]
        line["scatter"] = scatter
    if fit.classes:
        spreads = tomlkit.aot()
        for one in fit.classes:
            row = tomlkit.table()
            row["area_ratio"], row["spread"] = _rounded(one.area_ratio), _ends(one.spread.after)
            row["mean"] = _ends(one.mean.after)
            row["technology"], row["powder"] = done.technology, done.powder
            spreads.append(row)
        line["spread"] = spreads
    _add_levels(line, done.levels)
    document["line"] = line
    columns = tomlkit.table()
    kept = dict(done.read.columns.table()) if done.read is not None else {}
    for field, heading in (kept | dict(done.checks.columns if done.checks else {})).items():
        columns[field] = heading
    document["columns"] = columns
    return tomlkit.dumps(document)


def _add_levels(line: Table, levels: Sequence[Level]) -> None:
    """Firm levels as the line's own rates, other counts on packages as counts."""
    rates = tomlkit.aot()
    for one in firm(levels):
        rate = tomlkit.table()
        rate["family"] = one.family
        if one.pitch_mm is not None:
            rate.add(tomlkit.comment(f"counted on {one.package}"))
            rate["least_pitch"] = rate["most_pitch"] = f"{one.pitch_mm:g} mm"
        rate["bridge"], rate["open"] = _rounded(one.bridge), _rounded(one.open)
        rates.append(rate)
    if rates:
        line["rates"] = rates
    held = {(one.family, one.package) for one in firm(levels)}
    counts = tomlkit.aot()
    for level in levels:
        counted = level.counted
        if counted.package and (counted.family, counted.package) not in held:
            row = tomlkit.table()
            row["package"], row["kind"] = counted.package, counted.kind
            row["defects"], row["joints"] = counted.defects, counted.joints
            counts.append(row)
    if counts:
        line["counts"] = counts


def report_text(done: Calibrated, *, line_file: str, notes: Sequence[str] = ()) -> str:
    """The page: what was read, fits beside the prior's bands, what was learned, what stayed, what to measure next."""
    fit, read = done.fit, done.read
    parts = [f"# What {done.source} says of this line", "", f"The line file is `{line_file}`."]
    if read is not None:
        parts += [
            f"{fit.panels} panels, {fit.deposits} deposits used of {read.rows} rows. Foil {done.technology}, powder"
            f" {done.powder}. Values in brackets are 90 % intervals.",
            "",
            "## Read",
            "",
            *[f"- {field}: {heading}" for field, heading in read.columns.table().items()],
            *[f"- not used: {', '.join(read.columns.passed)}" for _ in [0] if read.columns.passed],
            *[f"- **left out** {count} rows: {why}" for why, count in read.left_out.items()],
            *[f"- **note**: {note}" for note in read.notes],
        ]
    parts += [*_checked(done), "", "## Transfer against area ratio", ""]
    if fit.classes:
        parts += [
            "| area ratio | deposits (places) | measured mean | band of an ordinary line | after | measured spread |"
            " shipped spread | after |",
            "|---|---|---|---|---|---|---|---|",
            *[
                f"| {one.area_ratio:.2f} | {one.deposits} ({one.places}) | {_percent(one.mean.data)} | "
                f"{one.band[0]:.0%} – {one.band[1]:.0%}{_beside(one.mean.data, one.band)} | "
                f"{_percent(one.mean.after)} | {_percent(one.spread.data)}{_wider(one.spread)} |"
                f" {_percent(one.spread.prior)} | {_percent(one.spread.after)} |"
                for one in fit.classes
            ],
            "",
            "Rates take mean and spread after joining, within 0.10 of a measured area ratio; elsewhere the shipped"
            " spread stands, and the line's one place in the transfer band. A volume that holds the board's mask and"
            " text under the paste reads high by their height.",
        ]
    else:
        parts.append("No class of area ratios has enough prints, places and deposits: the prior stays.")
    parts += ["", "## Learned", "", "| what | before | in the data | after |", "|---|---|---|---|"]
    learned = [*([fit.transfer] if fit.transfer else []), *done.terms]
    parts += [f"| {_name(one)} | {_shown(one.prior)} | {_shown(one.data)} | {_shown(one.after)} |" for one in learned]
    for name, found in _plain(done).items():
        if found is not None:
            parts.append(f"| {name} | – | {_shown(found)} | {_shown(found)} |")
    parts += _levels(done.levels, notes)
    parts += _witnessed(done.witnesses)
    parts += ["", "## Stayed as shipped", ""]
    parts += [f"- {name}: not in these data" for name, found in _plain(done).items() if found is None]
    names = {one.name for one in done.terms}
    kept = [term.name for term in default_terms().values() if term.moves and term.name not in names]
    parts += [f"- {', '.join(kept)}: these data don't show them", ""]
    parts += ["## What would narrow most", "", *[f"- {text}" for text in wanted(done)], ""]
    return "\n".join(parts)


def _levels(levels: Sequence[Level], notes: Sequence[str]) -> list[str]:
    """Counted defects beside what other lines have."""
    if not levels and not notes:
        return []
    held = {(one.family, one.package) for one in firm(levels)}
    rows = []
    for one in levels:
        before, after = (f"{mean:.3g} [{low:.2g}, {high:.2g}]" for mean, low, high in (one.before, one.after))
        counted = one.counted
        used = "as its rate" if (counted.family, counted.package) in held else _NARROWS if counted.package else _STAYS
        told = f"{counted.defects} of {counted.joints}"
        rows.append(f"| {counted.name} | {counted.kind} | {told} | {before} | {after} | {used} |")
    return [
        "",
        "## Counted defects, per million joints",
        "",
        "| family or package | kind | counted | before | after | in the line file |",
        "|---|---|---|---|---|---|",
        *rows,
        "",
        "Before: one published line's counts, as wide as lines differ. What inspection missed is not counted. A"
        " family's levels go into the line file where bridges and opens are both known within a factor of"
        f" {MOST_WIDE:g} from end to end; they then hold for every print of it, a package's for its family at that"
        " pitch.",
        *[f"- **note**: {note}" for note in notes],
    ]


def _witnessed(witnesses: Sequence[Witness]) -> list[str]:
    """What counts on packages say of the model."""
    if not witnesses:
        return []
    rows = []
    for one in witnesses:
        mean, low, high = one.expected
        split = "too few draws agree" if one.modelled is None else f"{one.modelled:.0%} of them modelled"
        terms = default_terms()
        speaks = "; ".join(
            f"{'more' if moved > 0 else 'less'} of: {terms[name].says if name in terms else name} ({moved:+.1f} sd)"
            for name, moved in one.speaks
        )
        rows.append(
            f"| {one.counted.name} | {one.counted.kind} | {1e6 * one.counted.defects / one.counted.joints:.3g} |"
            f" {mean:.3g} [{low:.2g}, {high:.2g}] | ×{one.over:.2g} | {split} | {speaks or 'nothing clear'} |"
        )
    return [
        "",
        "## What the counts say of the model",
        "",
        "| package | kind | counted per million joints | expected beforehand | counted over expected | causes |"
        " speaks for |",
        "|---|---|---|---|---|---|---|",
        *rows,
        "",
        "Expected: the model with this line's values and the causes that no geometry knows, each package printed as the"
        " line would. The draws of what is known are weighed by how likely each makes the count; terms are named where"
        " their mean moves. They are not put into the line file: several terms can tell the same story.",
    ]


def wanted(done: Calibrated) -> tuple[str, ...]:
    """What to measure next, the widest first.

    The share of the prior's width that is left says how little the data told.
    """
    fit = done.fit
    left: list[tuple[float, str]] = []
    for one in (*([fit.transfer] if fit.transfer else []), *done.terms):
        before, after = (_width(one.name, each) for each in (one.prior, one.after))
        more = _MORE.get(one.name, "more panels, of several days")
        left.append((after / before, f"{_name(one)}: {after / before:.0%} of the prior's width is left; {more}"))
    if fit.transfer is None:
        left.append((1.0, "the transfer: at least 5 panels and 4 equal apertures at each area ratio"))
    if fit.print_offset_mm is None:
        left.append((1.0, "the print offset: offsets of the deposits, of at least 5 panels"))
    if done.placement is None:
        left.append((1.0, "the placement offset: placement checks (--placed) of at least 5 boards"))
    small = min((one.area_ratio for one in fit.classes), default=1.0)
    if small > 0.66:
        left.append(
            (0.9, f"small openings: none below area ratio {small:.2f} was printed; what is said of them is the prior")
        )
    return tuple(text for _, text in sorted(left, key=lambda pair: -pair[0]))


def _width(name: str, one: Fitted) -> float:
    from math import log

    if name == "transfer":
        return one.high - one.low
    return log(max(one.high, 1e-9) / max(one.low, 1e-9))


def _checked(done: Calibrated) -> list[str]:
    """How placement checks were read."""
    if done.checks is None or done.placement is None:
        return []
    return [
        "",
        f"Placement checks: {done.placement.parts} parts used of {done.checks.rows}, on {done.placement.boards} boards;"
        f" {done.placement.shared:.0%} of their mean square offset is shared by all parts of a board.",
        "",
        *[f"- {field}: {heading}" for field, heading in done.checks.columns.items()],
        *[f"- **note**: {note}" for note in done.checks.notes],
    ]


def _plain(done: Calibrated) -> Mapping[str, Fitted | None]:
    fit = done.fit
    return {
        "print offset, 99.7 %": fit.print_offset_mm,
        "placement offset, 99.7 %": done.placement.offset_mm if done.placement else None,
        "turn of the print": fit.turn_mrad,
        "stretch of board against foil": fit.stretch_um_per_mm,
        "change of volume in a shift": fit.ageing_per_hour,
    }


def _name(one: Learned) -> str:
    if one.name == "transfer":
        return f"place in the transfer band (±{Z90:.2f} are its ends)"
    return f"{one.name}: {default_terms()[one.name].says}"


def _beside(data: Fitted | None, band: tuple[float, float]) -> str:
    if data is None or (data.high >= band[0] and data.low <= band[1]):
        return ""
    return ", **above it**" if data.low > band[1] else ", **below it**"


def _wider(spread: Learned) -> str:
    """Whether the line's spread stands clear of the shipped range."""
    data, prior = spread.data, spread.prior
    if data is None or (data.high >= prior.low and data.low <= prior.high):
        return ""
    return ", **wider**" if data.low > prior.high else ", **narrower**"


def _percent(one: Fitted | None) -> str:
    return "–" if one is None else f"{one.value:.1%} [{one.low:.1%}, {one.high:.1%}]"


def _shown(one: Fitted | None) -> str:
    if one is None:
        return "–"
    unit = f" {one.unit}" if one.unit else ""
    return f"{one.value:.3g} [{one.low:.3g}, {one.high:.3g}]{unit}"


def _rounded(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")


def _ends(one: Fitted) -> list[float]:
    return [_rounded(value) for value in (one.low, one.value, one.high)]
