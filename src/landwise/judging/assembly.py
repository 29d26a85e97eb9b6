"""Figures of how often the joints of a part go wrong."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from landwise.assembly.partrates import PER_MILLION, OwnRate, PartRates, own_rate
from landwise.assembly.rare import Estimate
from landwise.evidence.figures import Better, Figure, Step, Verdict, figure, worst
from landwise.evidence.trails import earlier, stated, worked
from landwise.judging.leaves import dimension
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
    return tuple(
        Figure(key=key, title=title, value=None, better=_better(better), why=why) for key, title, better in KEYS
    )


def _better(word: str) -> Better:
    return "more" if word == "more" else "less"


def bridges_of(rates: PartRates) -> Estimate:
    """Expected bridges on one part."""
    return rates.bridges


def opens_of(rates: PartRates) -> Estimate:
    """Expected open joints on one part."""
    return rates.opens


def first_pass_of(rates: PartRates) -> Estimate:
    """Share of parts without a defect."""
    return rates.first_pass


def defects_of(rates: PartRates) -> Estimate:
    """Expected defects of one part."""
    return rates.defects


def stated_defects(joints: float, per_million: float) -> float:
    """Defects that a line counts, on one part."""
    return per_million * joints / PER_MILLION


def both_defects(bridges: float, opens: float) -> float:
    """Bridges and opens together."""
    return bridges + opens


def without_defects(bridges: float, opens: float) -> float:
    """Share of parts without either, where defects are rare and independent."""
    return math.exp(-bridges - opens)


def _stated(geometry: Geometry, own: OwnRate, bench: Bench) -> tuple[Figure, ...]:
    joints = geometry.outline.terminals
    verdict = _verdict(max(own.bridge, own.open), bench.content.line.target)
    says = _own_says(own, joints)
    counted = earlier(dimension(geometry.outline, "joints", float(joints), ""))
    one, other = (
        worked(
            says,
            stated_defects,
            {"joints": counted, "per_million": stated(rate, "line.rates", "per million joints")},
            sources=("study",),
        )
        for rate in (own.bridge, own.open)
    )
    both = {"bridges": earlier(one), "opens": earlier(other)}
    steps = (
        one,
        other,
        worked(says, without_defects, both, sources=("study",)),
        worked(says, both_defects, both, sources=("study",)),
    )
    return tuple(
        figure(step, key=key, title=title, better=_better(better), verdict=verdict, why=says)
        for (key, title, better), step in zip(KEYS, steps, strict=True)
    )


def _own_says(own: OwnRate, joints: int) -> str:
    return (
        f"your own line: {own.bridge:g} bridges and {own.open:g} opens per million joints of {own.family} parts, "
        f"{joints} joints"
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
        limit,
        verdicts["bridges"],
        f"{per_million(found.bridges)} per million parts, {significant(per_joint['bridges'], 2)} per million joints,"
        f" over {pairs} facing pairs; {told(found, 'bridges')}",
        (*trail, _bridge_step(geometry, found)),
    )
    opened = _figure(
        KEYS[1],
        limit,
        verdicts["opens"],
        f"{per_million(found.opens)} per million parts, {significant(per_joint['opens'], 2)} per million joints;"
        f" {told(found, 'opens')}",
        (*trail, _open_step(geometry, found)),
    )
    simulated = {"rates": earlier(geometry.stations["defects"])}
    counted = worked(
        "shared offsets and paste put several defects on one part, so fewer parts are bad than defects are counted",
        first_pass_of,
        simulated,
        formula="yield",
        sources=("rate-simulation",),
    )
    good = figure(
        counted,
        key="yield",
        title=KEYS[2][1],
        better="more",
        verdict=whole,
        why=f"{found.first_pass.value:.3%} of parts without a defect; {told(found, 'defects')}",
        trail=(*trail, counted),
    )
    total = _figure(
        KEYS[3],
        None,
        whole,
        f"per million parts: bridges {per_million(found.bridges)}, opens {per_million(found.opens)}, floats, skews and"
        f" tilts {per_million(found.moved)}, other causes {per_million(found.other)}; {found.hidden:.0%} of them can't"
        f" be seen from above; {told(found, 'defects')}",
        (
            *trail,
            worked(
                "bridges + opens + floats + skews + tilts + other causes",
                defects_of,
                simulated,
                inputs={"other causes": f"{per_million(found.other)} per million parts"},
                valid=not_modelled(found),
                sources=("rate-simulation", "phm-2022-counts"),
            ),
        ),
    )
    return bridging, opened, good, total


def _figure(
    head: tuple[str, str, str], limit: float | None, verdict: Verdict, why: str, trail: tuple[Step, ...]
) -> Figure:
    key, title, better = head
    return figure(
        trail[-1],
        key=key,
        title=title,
        better=_better(better),
        limit=limit,
        limit_source="study" if limit is not None else "",
        verdict=verdict,
        why=why,
        trail=trail,
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
    first = Step(says=f"scatter of the line, one standard deviation each{said}", inputs=inputs, sources=SCATTER_SOURCES)
    if found.own is not None:
        return (first, Step(says=_own_says(found.own, found.worked.joints), sources=("study",)))
    return (first,)


def _bridge_step(geometry: Geometry, found: PartRates) -> Step:
    simulated = {"rates": earlier(geometry.stations["defects"])}
    if found.own is not None:
        return worked("as the line counts them", bridges_of, simulated, sources=("study",))
    rate = found.worked.bridges
    return worked(
        "deposits touch through slump, squeeze-out and offset, and stay joined when molten if they hold more than "
        "two joints take back; neither depends on the area ratio's limit",
        bridges_of,
        simulated,
        inputs={"sampling alone": sampled(rate, found.worked)},
        formula="bridge-rate",
        valid="mean and range over lines as they may be; the trade's pitch rules are not built in; "
        + not_modelled(found, "bridges"),
        sources=("rate-simulation", "bridge-energy", "scatter-assumption", "phm-2022-counts"),
    )


def _open_step(geometry: Geometry, found: PartRates) -> Step:
    if found.own is not None:
        counted = {"rates": earlier(geometry.stations["defects"])}
        return worked("as the line counts them", opens_of, counted, sources=("study",))
    rate = found.worked.opens
    return worked(
        "a terminal stands higher than its paste reaches and its solder hangs on",
        opens_of,
        {"rates": earlier(geometry.stations["defects"])},
        inputs={"sampling alone": sampled(rate, found.worked)},
        valid=f"terminals and lands that wet; {not_modelled(found, 'opens')}",
        sources=("rate-simulation", "jedec-coplanarity-memory", "neck-closing", "phm-2022-counts"),
    )
