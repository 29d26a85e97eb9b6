"""Figures and their trails as plain data for `result.json`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType

from landwise.evidence.figures import Figure
from landwise.evidence.trails import Given, Step, behind
from landwise.untyped import Fields

NOTHING: Mapping[int, str] = MappingProxyType({})


def figures_data(
    figures: Iterable[Figure], elsewhere: Mapping[int, str] = NOTHING
) -> tuple[list[dict[str, object]], dict[str, dict[str, object]]]:
    """Every figure with its trail, and by key the steps that the trails go back to and that many share.

    `elsewhere` names, by identity, steps that stand in the result already: their trails are not written again.
    """
    figures = tuple(figures)
    names, shared = names_of(figures, elsewhere)
    return [_figure(figure, names) for figure in figures], {
        names[key]: _step(step, names) for key, step in shared.items()
    }


def names_of(
    figures: Sequence[Figure], elsewhere: Mapping[int, str] = NOTHING
) -> tuple[dict[int, str], dict[int, Step]]:
    """The key of every step by its identity, and the steps behind the figures' own trails.

    Of steps with a key of their own that a file would tell alike, such as the board's table of two runs, one stands
    for all.
    """
    names = dict(elsewhere)
    keyed: dict[str, list[Step]] = {}
    alike: dict[tuple[int, int], bool] = {}
    for figure in figures:
        for number, step in enumerate(figure.trail, start=1):
            names.setdefault(id(step), step.key or f"{figure.key}.{number}")
            if step.key:
                keyed.setdefault(step.key, []).append(step)
    shared: dict[int, Step] = {}
    for figure in figures:
        for step in behind(figure.trail, known=elsewhere):
            if id(step) in names:
                continue
            same = keyed.setdefault(step.key, []) if step.key else []
            first = next((one for one in same if _alike(one, step, alike)), None)
            if first is not None:
                names[id(step)] = names[id(first)]
            else:
                name = step.key or f"{figure.key}.{len(shared) + 1}b"
                names[id(step)] = name if name not in names.values() else f"{name}.{len(shared) + 1}"
                shared[id(step)] = step
                same.append(step)
    return names, shared


def _alike(one: Step, other: Step, known: dict[tuple[int, int], bool]) -> bool:
    """Whether a file tells two steps alike, with all that they go back to; `known` keeps what was compared."""
    if one is other:
        return True
    pair = id(one), id(other)
    if pair not in known:
        known[pair] = (
            _step_words(one) == _step_words(other)
            and one.given.keys() == other.given.keys()
            and all(_given_alike(given, other.given[name], known) for name, given in one.given.items())
        )
    return known[pair]


def _step_words(step: Step) -> tuple[object, ...]:
    numbers = (step.value, step.low, step.high)
    return step.says, dict(step.inputs), numbers, step.unit, step.formula, step.valid, step.sources, step.by, step.key


def _given_alike(one: Given, other: Given, known: dict[tuple[int, int], bool]) -> bool:
    if one.step is not None and other.step is not None:
        return _given_words(one) == _given_words(other) and _alike(one.step, other.step, known)
    return one.step is other.step and (one.shown, *_given_words(one)) == (other.shown, *_given_words(other))


def _given_words(given: Given) -> tuple[object, ...]:
    return given.origin, given.place, given.unit, given.reason, given.sources


def _figure(figure: Figure, names: Mapping[int, str]) -> dict[str, object]:
    return {
        "key": figure.key,
        "title": figure.title,
        "value": figure.value,
        "unit": figure.unit,
        "low": figure.low,
        "high": figure.high,
        "better": figure.better,
        "limit": figure.limit,
        "limit_source": figure.limit_source,
        "margin": figure.margin,
        "verdict": figure.verdict,
        "why": figure.why,
        "trail": [_step(step, names) for step in figure.trail],
    }


def _step(step: Step, names: Mapping[int, str]) -> dict[str, object]:
    more = {
        "key": names[id(step)],
        "low": step.low if step.low != step.value else None,
        "high": step.high if step.high != step.value else None,
        "by": step.name_of_function,
        "given": {name: _given(one, names) for name, one in step.given.items()},
    }
    return {
        "says": step.says,
        "inputs": dict(step.inputs),
        "value": step.value,
        "unit": step.unit,
        "formula": step.formula,
        "valid": step.valid,
        "sources": list(step.sources),
        **_said(more),
    }


def _given(given: Given, names: Mapping[int, str]) -> dict[str, object]:
    more = {
        "value": given.step.value if given.step is not None else given.shown,
        "unit": given.unit,
        "place": names.get(id(given.step), "") if given.step is not None else given.place,
        "reason": given.reason,
        "sources": list(given.sources),
    }
    return {"origin": given.origin.value, **_said(more)}


def _said(fields: Fields) -> Fields:
    """Without what says nothing: trails are most of a result."""
    return {name: one for name, one in fields.items() if one or isinstance(one, (int, float))}
