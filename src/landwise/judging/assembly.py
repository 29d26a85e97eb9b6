"""Figures of how often the joints of a part go wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.assembly.partrates import PER_MILLION, OwnRate, PartRates, own_rate
from landwise.assembly.rare import Estimate
from landwise.evidence.figures import Better, Figure, Step, Verdict, worst
from landwise.judging.exact import exact
from landwise.quantities import significant

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import PartTable

KEYS = (
    ("bridging", "expected bridges on one part", "less"),
    ("open", "expected open joints on one part", "less"),
    ("yield", "parts without a defect at first pass", "more"),
    ("defects", "expected defects of one part", "less"),
)
MARGINAL = 10.0  # times the target; a level is hardly known better than that
LEVELS = "ratios between options are far better known than these levels"
SCATTER_SOURCES = ("slump-ipc-a-21", "scatter-assumption")


def assembly_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """Expected bridges, opens and defects of one option, and the share of parts without any."""
    found = geometry.rates
    if found is None:
        own = own_rate(geometry.outline, bench.own_rates)
        return _not_printed(geometry, bench) if own is None else _stated(geometry, own, bench)
    return _worked(geometry, found, bench)


def _not_printed(geometry: Geometry, bench: Bench) -> tuple[Figure, ...]:
    why = (
        "nothing is printed: defects of wave and hand soldering are not worked; state your own in [[line.rates]],"
        f" family {geometry.outline.family!r}"
    )
    return tuple(
        Figure(key=key, title=title, value=None, better=_better(better), why=why) for key, title, better in KEYS
    )


def _better(word: str) -> Better:
    return "more" if word == "more" else "less"


def _stated(geometry: Geometry, own: OwnRate, bench: Bench) -> tuple[Figure, ...]:
    import math

    joints = geometry.outline.terminals
    bridge, opened = own.bridge * joints / PER_MILLION, own.open * joints / PER_MILLION
    verdict = _verdict(max(own.bridge, own.open), bench.content.line.target)
    step = _own_step(own, joints)
    values = (bridge, opened, math.exp(-bridge - opened), bridge + opened)
    return tuple(
        exact(key=key, title=title, value=value, unit="", better=better, verdict=verdict, why=step.says, trail=(step,))
        for (key, title, better), value in zip(KEYS, values, strict=True)
    )


def _own_step(own: OwnRate, joints: int) -> Step:
    return Step(
        says=f"your own line: {own.bridge:g} bridges and {own.open:g} opens per million joints of {own.family} parts, "
        f"{joints} joints",
        sources=("study",),
    )


def _worked(geometry: Geometry, found: PartRates, bench: Bench) -> tuple[Figure, ...]:
    target, joints = bench.content.line.target, max(1, found.worked.joints)
    trail = _trail(found, bench)
    limit = target * joints / PER_MILLION
    per_joint = {name: getattr(found, name).value / joints * PER_MILLION for name in ("bridges", "opens")}
    verdicts = {name: _verdict(rate, target) for name, rate in per_joint.items()}
    whole = worst(verdicts.values())
    pairs = found.worked.pairs
    bridging = _figure(
        KEYS[0],
        found.bridges,
        limit,
        verdicts["bridges"],
        f"{_per_million(found.bridges)} per million parts, {significant(per_joint['bridges'], 2)} per million joints,"
        f" over {pairs} facing pairs; {LEVELS}",
        (*trail, *_bridge_steps(geometry, found)),
    )
    opened = _figure(
        KEYS[1],
        found.opens,
        limit,
        verdicts["opens"],
        f"{_per_million(found.opens)} per million parts, {significant(per_joint['opens'], 2)} per million joints;"
        f" {LEVELS}",
        (*trail, _open_step(found)),
    )
    good = Figure(
        key="yield",
        title=KEYS[2][1],
        value=found.first_pass.value,
        unit="",
        low=found.first_pass.low,
        high=found.first_pass.high,
        better="more",
        verdict=whole,
        why=f"{found.first_pass.value:.3%} of parts without a defect; {LEVELS}",
        trail=(
            *trail,
            Step(
                says="shared offsets and paste put several defects on one part, so fewer parts are bad than defects are"
                " counted",
                value=found.first_pass.value,
                formula="yield",
                sources=("rate-simulation",),
            ),
        ),
    )
    rest = found.worked.floated.value + found.worked.skewed.value + found.worked.tilted.value
    total = _figure(
        KEYS[3],
        found.defects,
        None,
        whole,
        f"{_per_million(found.bridges)} bridges, {_per_million(found.opens)} opens and"
        f" {significant(rest * PER_MILLION, 2)} floats, skews and tilts per million parts; {found.hidden:.0%} of them"
        f" can't be seen from above; {LEVELS}",
        (
            *trail,
            Step(
                says="bridges + opens + floats + skews + tilts", value=found.defects.value, sources=("rate-simulation",)
            ),
        ),
    )
    return bridging, opened, good, total


def _figure(
    head: tuple[str, str, str], rate: Estimate, limit: float | None, verdict: Verdict, why: str, trail: tuple[Step, ...]
) -> Figure:
    key, title, better = head
    return Figure(
        key=key,
        title=title,
        value=rate.value,
        unit="",
        low=rate.low,
        high=rate.high,
        better=_better(better),
        limit=limit,
        limit_source="study" if limit is not None else "",
        verdict=verdict,
        why=why,
        trail=trail,
    )


def _per_million(rate: Estimate) -> str:
    value, low, high = (significant(one * PER_MILLION, 2) for one in (rate.value, rate.low, rate.high))
    return value if low == high else f"{value} ({low}…{high})"


def _verdict(per_million_joints: float, target: float) -> Verdict:
    if per_million_joints <= target:
        return "holds"
    return "marginal" if per_million_joints <= MARGINAL * target else "fails"


def _trail(found: PartRates, bench: Bench) -> tuple[Step, ...]:
    line = bench.scatter
    own = [term.name for term in line.terms if term.source == "study"]
    inputs = {
        "print offset": f"{line.print_mm * 1000:.1f} µm",
        "placement offset": f"{line.placement_mm * 1000:.1f} µm",
        **{term.name: f"{term.value:g} {term.unit}".strip() for term in line.terms},
    }
    said = f"; stated by the study: {', '.join(own)}" if own else "; none of them stated by the study"
    first = Step(says=f"scatter of the line, one standard deviation each{said}", inputs=inputs, sources=SCATTER_SOURCES)
    if found.own is not None:
        return (first, _own_step(found.own, found.worked.joints))
    return (first,)


def _bridge_steps(geometry: Geometry, found: PartRates) -> tuple[Step, ...]:
    if found.own is not None:
        return ()
    sampled = found.worked.bridges
    return (
        Step(
            says="deposits touch through slump, squeeze-out and offset, and stay joined when molten if they hold more than "
            "two joints take back; neither depends on the area ratio's limit",
            inputs={"sampling alone": f"{sampled.low:.3g} to {sampled.high:.3g}"},
            value=found.bridges.value,
            unit="",
            formula="bridge-rate",
            valid="a level known to a factor of ten at best; the trade's pitch rules are not built in",
            sources=("rate-simulation", "bridge-energy", "scatter-assumption"),
        ),
    )


def _open_step(found: PartRates) -> Step:
    sampled = found.worked.opens
    return Step(
        says="a terminal stands higher than its paste reaches and its solder hangs on",
        inputs={"sampling alone": f"{sampled.low:.3g} to {sampled.high:.3g}"},
        value=found.opens.value,
        unit="",
        formula=None,
        valid="terminals and lands that wet; contamination and dewetting are not worked",
        sources=("rate-simulation", "jedec-coplanarity-memory", "neck-closing"),
    )
