"""Figures of how often the joints of a part go wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.assembly.partrates import PER_MILLION, OwnRate, PartRates, own_rate
from landwise.assembly.rare import Estimate
from landwise.evidence.figures import Better, Figure, Step, Verdict, worst
from landwise.judging.exact import exact
from landwise.judging.ratewords import not_modelled, per_million, sampled, told
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
    return tuple(Figure(key, title, None, better=_better(better), why=why) for key, title, better in KEYS)


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
        exact(key, title, value, "", better=better, verdict=verdict, why=step.says, trail=(step,))
        for (key, title, better), value in zip(KEYS, values, strict=True)
    )


def _own_step(own: OwnRate, joints: int) -> Step:
    return Step(
        f"your own line: {own.bridge:g} bridges and {own.open:g} opens per million joints of {own.family} parts, "
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
        f"{per_million(found.bridges)} per million parts, {significant(per_joint['bridges'], 2)} per million joints,"
        f" over {pairs} facing pairs; {told(found, 'bridges')}",
        (*trail, *_bridge_steps(geometry, found)),
    )
    opened = _figure(
        KEYS[1],
        found.opens,
        limit,
        verdicts["opens"],
        f"{per_million(found.opens)} per million parts, {significant(per_joint['opens'], 2)} per million joints;"
        f" {told(found, 'opens')}",
        (*trail, _open_step(found)),
    )
    good = Figure(
        "yield",
        KEYS[2][1],
        found.first_pass.value,
        "",
        found.first_pass.low,
        found.first_pass.high,
        "more",
        verdict=whole,
        why=f"{found.first_pass.value:.3%} of parts without a defect; {told(found, 'defects')}",
        trail=(
            *trail,
            Step(
                "shared offsets and paste put several defects on one part, so fewer parts are bad than defects are"
                " counted",
                value=found.first_pass.value,
                formula="yield",
                sources=("rate-simulation",),
            ),
        ),
    )
    total = _figure(
        KEYS[3],
        found.defects,
        None,
        whole,
        f"per million parts: bridges {per_million(found.bridges)}, opens {per_million(found.opens)}, floats, skews and"
        f" tilts {per_million(found.moved)}, other causes {per_million(found.other)}; {found.hidden:.0%} of them can't"
        f" be seen from above; {told(found, 'defects')}",
        (
            *trail,
            Step(
                "bridges + opens + floats + skews + tilts + other causes",
                {"other causes": f"{per_million(found.other)} per million parts"},
                value=found.defects.value,
                valid=not_modelled(found),
                sources=("rate-simulation", "phm-2022-counts"),
            ),
        ),
    )
    return bridging, opened, good, total


def _figure(
    head: tuple[str, str, str], rate: Estimate, limit: float | None, verdict: Verdict, why: str, trail: tuple[Step, ...]
) -> Figure:
    key, title, better = head
    return Figure(
        key,
        title,
        rate.value,
        "",
        rate.low,
        rate.high,
        _better(better),
        limit,
        "study" if limit is not None else "",
        verdict,
        why,
        trail,
    )


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
    first = Step(f"scatter of the line, one standard deviation each{said}", inputs, sources=SCATTER_SOURCES)
    if found.own is not None:
        return (first, _own_step(found.own, found.worked.joints))
    return (first,)


def _bridge_steps(geometry: Geometry, found: PartRates) -> tuple[Step, ...]:
    if found.own is not None:
        return ()
    rate = found.worked.bridges
    return (
        Step(
            "deposits touch through slump, squeeze-out and offset, and stay joined when molten if they hold more than "
            "two joints take back; neither depends on the area ratio's limit",
            {"sampling alone": sampled(rate, found.worked)},
            found.bridges.value,
            "",
            "bridge-rate",
            "mean and range over lines as they may be; the trade's pitch rules are not built in",
            ("rate-simulation", "bridge-energy", "scatter-assumption", "phm-2022-counts"),
        ),
    )


def _open_step(found: PartRates) -> Step:
    rate = found.worked.opens
    return Step(
        "a terminal stands higher than its paste reaches and its solder hangs on",
        {"sampling alone": sampled(rate, found.worked)},
        found.opens.value,
        "",
        None,
        "terminals and lands that wet; contamination and dewetting are other causes",
        ("rate-simulation", "jedec-coplanarity-memory", "neck-closing", "phm-2022-counts"),
    )
