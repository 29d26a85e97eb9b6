"""The rates of one part as they are reported: modelled and other causes, over everything that is not known."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.drawn import Drawn, drawn_rates, names
from landwise.assembly.knowledge import (
    MECHANISMS,
    MODELLED,
    Knowledge,
    default_knowledge,
    joint_class,
)
from landwise.assembly.knowledge import PER_MILLION as PER_MILLION
from landwise.assembly.leftout import LeftOut, at_rate, left_out
from landwise.assembly.partmodel import PartModel
from landwise.assembly.points import Mixture, seed_of
from landwise.assembly.rare import FLOOR, Estimate, Rates, mixture_of, rates
from landwise.errors import InputError
from landwise.outlines import FAMILIES, Outline

Array = NDArray[np.float64]
LIKE_NONE = 1e-7  # defects per part below which a term can't be told to matter
NAMED = 3  # terms that a rate is said to hang on


@dataclass(frozen=True)
class OwnRate:
    """What a user's own line counts, by family: defects per million joints.

    Parameters
    ----------
    family : str
    bridge, open : float
        Per million joints.
    least_pitch_mm, most_pitch_mm : float
        Pitches for which it was counted. [mm]
    """

    family: str
    bridge: float
    open: float
    least_pitch_mm: float = 0.0
    most_pitch_mm: float = math.inf

    def __post_init__(self) -> None:
        if self.family not in FAMILIES:
            raise InputError(
                "no such family", place="line, rates, family", found=self.family, expected=" | ".join(FAMILIES)
            )
        for name in ("bridge", "open"):
            if not 0 <= getattr(self, name) <= PER_MILLION:
                raise InputError(
                    "a rate is counted per million joints",
                    place=f"line, rates, {name}",
                    found=f"{getattr(self, name):g}",
                    expected="0 to 1,000,000",
                )

    def covers(self, outline: Outline) -> bool:
        """Whether it was counted on parts like this one."""
        return (
            self.family == outline.family
            and self.least_pitch_mm - 1e-9 <= outline.pitch_mm <= self.most_pitch_mm + 1e-9
        )


@dataclass(frozen=True)
class Hanging:
    """One input that a rate hangs on: its share of the spread of the rate's logarithm."""

    term: str
    share: float


@dataclass(frozen=True)
class PartRates:
    """The rates of one part under one print.

    Parameters
    ----------
    worked : Rates
        From the model at the middle of what is known, with sampling intervals only.
    by : tuple of (mechanism, tuple of float)
        Expected number per part at every draw of what is known: `bridges`, `opens`, `moved` (floats, skews and tilts)
        and `other` (causes that no geometry knows).
    counted : tuple of (kind, tuple of float)
        Expected number per part at every draw as a line would count it, whatever the cause: `bridge` and `open`.
    hidden_by : tuple of (mechanism, float)
        Share of each that can't be seen from above.
    bridges, opens, moved, other, defects : Estimate
        Mean over those draws, with their 90 % interval: that of knowledge.
    first_pass : Estimate
        Share of parts without a defect, likewise.
    hangs_on : tuple of (mechanism, tuple of Hanging)
        The three terms that bridges, opens and defects hang on.
    anchored : bool
        Whether defects of this class of joints were counted anywhere readable.
    left_out : tuple of (mechanism, tuple of LeftOut)
        Ways such joints fail that only `other` holds, by the rate in which a line would count them.
    own : OwnRate or None
        The user's own rate, where `bridges` and `opens` come from it.
    model : PartModel or None
        What the modelled part came from.
    """

    worked: Rates
    by: tuple[tuple[str, tuple[float, ...]], ...]
    hidden_by: tuple[tuple[str, float], ...]
    bridges: Estimate
    opens: Estimate
    moved: Estimate
    other: Estimate
    defects: Estimate
    first_pass: Estimate
    hangs_on: tuple[tuple[str, tuple[Hanging, ...]], ...] = ()
    anchored: bool = True
    left_out: tuple[tuple[str, tuple[LeftOut, ...]], ...] = ()
    counted: tuple[tuple[str, tuple[float, ...]], ...] = ()
    own: OwnRate | None = None
    model: PartModel | None = None

    def draws(self, number: int | None = None) -> Mapping[str, Array]:
        """Expected defects per part by mechanism at common draws of what is known, (number,) each.

        Row k of two options is the same line: a ratio or a difference is taken row by row.

        Parameters
        ----------
        number : int, optional
            How many, from the first; all there are by default.

        Raises
        ------
        InputError
            For more draws than there are.
        """
        most = len(self.by[0][1])
        taken = most if number is None else number
        if not 1 <= taken <= most:
            raise InputError("no such number of draws", found=str(taken), expected=f"1 to {most}")
        return MappingProxyType({name: np.array(values[:taken]) for name, values in self.by})

    def not_modelled(self, what: str = "defects") -> tuple[LeftOut, ...]:
        """Ways to fail that one rate holds in the other causes alone; a rate that the line counted holds them all."""
        return at_rate(dict(self.left_out), what, self.own is not None)

    @property
    def kappa(self) -> float:
        """−ln(good parts) over modelled defects in the middle; one where each defect has a part of its own."""
        if self.own is not None or self.worked.defects.value <= FLOOR:
            return 1.0
        return -math.log(max(self.worked.first_pass.value, 1e-12)) / self.worked.defects.value

    def bad(self) -> Array:
        """Share of bad parts at every draw: 1 − exp(−κ·modelled − others), the κ of the middle taken at every level."""
        found = self.draws()
        modelled = sum((found[name] for name in MODELLED), start=np.zeros(len(found["other"])))
        shared: Array = -np.expm1(-self.kappa * modelled - found["other"])
        return shared

    @property
    def hidden_shares(self) -> Mapping[str, float]:
        """Share of each mechanism's defects that can't be seen from above."""
        return MappingProxyType(dict(self.hidden_by))

    @property
    def hidden(self) -> float:
        """Share of all expected defects that can't be seen from above."""
        shares = self.hidden_shares
        unseen = sum(getattr(self, name).value * shares[name] for name in MECHANISMS)
        return unseen / self.defects.value if self.defects.value > 0 else 0.0


def own_rate(outline: Outline, own: Sequence[OwnRate]) -> OwnRate | None:
    """The first of a user's own rates that covers an outline."""
    return next((rate for rate in own if rate.covers(outline)), None)


def part_rates(model: PartModel, own: OwnRate | None = None, *, knowledge: Knowledge | None = None) -> PartRates:
    """Rates of a part over everything that is not known.

    Parameters
    ----------
    model : PartModel
    own : OwnRate, optional
        Used instead of the model for bridges and opens. What a line counts as bridge or open holds every cause of it,
        so that of other causes only those of whole parts (missing, turned) are left.
    knowledge : Knowledge, optional
        The shipped draws by default.

    Notes
    -----
    At every draw the model is worked with that draw's terms; other causes are added, both are multiplied by what the
    line and the package differ by (docs/defect_levels.md). The value reported is the mean over draws, as an expected
    cost needs it; the interval reaches from 5 to 95 % of them.
    """
    known = knowledge or default_knowledge()
    kind = joint_class(model.geometry.family)
    middle, mixture, worked = _in_the_middle(model, known)
    drawn = drawn_rates(model, known.scores, middle=mixture, deposits=known.deposits)
    line = np.exp(known.line)
    by = _modelled(model, known, drawn, worked)
    others = known.others[kind]
    package = known.package(model.geometry.name, kind, "rest")
    part, joint = others.part / PER_MILLION, others.joint * worked.joints / PER_MILLION
    gap = others.gap * worked.pairs / PER_MILLION * known.package(model.geometry.name, kind, "bridges")
    by["other"] = ((part + joint) * package + gap) * line
    counted = {"bridge": by["bridges"] + gap * line, "open": by["opens"] + joint * package * line}
    if own is not None:
        by["bridges"], by["opens"] = _own(own, known, worked)
        by["other"] = part * package * line
        counted = {"bridge": by["bridges"], "open": by["opens"]}
    joints = model.geometry.joints
    unseen = sum(one.hidden for one in joints if one.counts) / max(1, worked.joints)
    hidden = {
        "bridges": _share(worked.hidden_bridges, worked.bridges.value, unseen),
        "opens": _share(worked.hidden_opens, worked.opens.value, unseen),
        "moved": float(all(one.hidden for one in joints)),
        "other": unseen,
    }
    total = sum(by.values(), start=np.zeros(known.draws))
    hangs = {"bridges": drawn["bridges"], "opens": drawn["opens"], "defects": sum_of(drawn)}
    found = PartRates(
        worked=worked,
        by=tuple((name, tuple(by[name].tolist())) for name in MECHANISMS),
        hidden_by=tuple(hidden.items()),
        **{name: over_draws(by[name]) for name in MECHANISMS},
        defects=over_draws(total),
        first_pass=exactly(1.0),
        hangs_on=tuple((name, hanging(values, known.scores, model)) for name, values in hangs.items() if own is None),
        anchored=kind in known.anchored,
        counted=tuple((name, tuple(values.tolist())) for name, values in counted.items()),
        left_out=tuple(left_out(kind, model.geometry.family).items()),
        own=own,
        model=middle,
    )
    return replace(found, first_pass=over_draws(1 - found.bad()))


def _in_the_middle(model: PartModel, known: Knowledge, *, yields: bool = True) -> tuple[PartModel, Mixture, Rates]:
    """The part in the middle of what is known, where its defects come from there, and their rates."""
    middle = model.with_scatter(known.middle(model.scatter))
    mixture = mixture_of(middle, seed_of(middle.geometry, middle.scatter.seeding))
    return middle, mixture, rates(middle, mixture=mixture, yields=yields)


def _modelled(model: PartModel, known: Knowledge, drawn: Drawn, worked: Rates) -> dict[str, Array]:
    """Defects of the model's own mechanisms at every draw, with what line and package differ by."""
    kind, line = joint_class(model.geometry.family), np.exp(known.line)
    by: dict[str, Array] = {}
    for name, parts in (("bridges", ("bridges",)), ("opens", ("opens",)), ("moved", ("floated", "skewed", "tilted"))):
        modelled = sum((drawn[part] for part in parts), start=np.zeros(known.draws))
        what = "bridges" if name == "bridges" else "rest"
        factor = known.factors.get((kind, name), np.ones(known.draws))
        most = worked.pairs if name == "bridges" else worked.joints + 1
        by[name] = np.minimum(modelled * factor * line * known.package(model.geometry.name, kind, what), most)
    return by


def modelled_draws(
    model: PartModel, own: OwnRate | None = None, *, knowledge: Knowledge | None = None, nothing: float = 0.0
) -> Mapping[str, Array] | None:
    """The `bridges`, `opens` and `moved` of `part_rates` at every draw, without what no print changes.

    Parameters
    ----------
    model, own, knowledge
        As of `part_rates`, which gives the same figures and costs half as much again.
    nothing : float
        None is given where a part without rates of its own has fewer defects than this with middle inputs. [a part]
    """
    known = knowledge or default_knowledge()
    _, mixture, worked = _in_the_middle(model, known, yields=False)
    if worked.defects.value < nothing and own is None:
        return None
    drawn = drawn_rates(model, known.scores, middle=mixture, deposits=known.deposits)
    by = _modelled(model, known, drawn, worked)
    if own is not None:
        by["bridges"], by["opens"] = _own(own, known, worked)
    return by


def _own(own: OwnRate, known: Knowledge, worked: Rates) -> tuple[Array, Array]:
    """A user's own bridges and opens, the same at every draw."""
    bridges, opens = (np.full(known.draws, rate * worked.joints / PER_MILLION) for rate in (own.bridge, own.open))
    return bridges, opens


def causes(found: PartRates) -> Mapping[str, tuple[Array, Array]]:
    """Expected `bridge` and `open` per joint at every draw, by the model's ways and by causes that no geometry knows.

    Returns
    -------
    mapping of str to (modelled, other)
        (draws,) each; a missing or turned part is in neither.
    """
    by, counted, joints = found.draws(), dict(found.counted), found.worked.joints
    return {
        kind: (by[name] / joints, (np.array(counted[kind]) - by[name]) / joints)
        for kind, name in (("bridge", "bridges"), ("open", "opens"))
    }


def over_draws(values: Array) -> Estimate:
    """Mean and 90 % interval over draws; what lies below the floor of 1e-9 is none."""
    values = np.where(values < FLOOR, 0.0, values)
    if np.ptp(values) == 0:
        return exactly(float(values[0]))
    low, high = np.quantile(values, (0.05, 0.95))
    mean = float(values.mean())
    return Estimate(mean, min(mean, float(low)), max(mean, float(high)))


def exactly(value: float) -> Estimate:
    """A rate that was stated."""
    return Estimate(value, value, value)


def sum_of(drawn: Drawn) -> Array:
    """All modelled defects at every draw."""
    found: Array = np.sum([np.array(values) for _, values in drawn.by], axis=0)
    return found


def hanging(values: Array, scores: Array, model: PartModel) -> tuple[Hanging, ...]:
    """The terms a rate hangs on most.

    Notes
    -----
    Shares of the variance of the rate's logarithm that each term's score explains in a linear regression on all of
    them. Where the rate stays like none at every draw nothing is named.
    """
    logs = np.log(values + LIKE_NONE)
    if float(logs.std()) < 0.05:
        return ()
    moving = [k for k, name in enumerate(names()) if name == "transfer" or model.scatter.term(name).moves]
    design = np.column_stack([np.ones(len(values)), scores[:, moving]])
    slopes = np.linalg.lstsq(design, logs, rcond=None)[0][1:]
    parts = (slopes * scores[:, moving].std(axis=0)) ** 2 / float(logs.var())
    order = np.argsort(-parts)[:NAMED]
    return tuple(Hanging(names()[moving[k]], min(1.0, float(parts[k]))) for k in order)


def _share(part: float, whole: float, otherwise: float) -> float:
    return part / whole if whole > 0 else otherwise
