"""Published cases that stand in files of another form: land patterns, fatigue tests, transfer, outline drawings."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib import resources
from types import MappingProxyType

from landwise.evidence import source
from landwise.outlines import Outline, Range, catalogue
from landwise.outlines.marks import readings
from landwise.printing import bounds_met
from landwise.proving.tables import Case
from landwise.untyped import Fields, Table

INCH_MM = 0.0125  # drawings in inches are rounded to a thousandth, some to a hundredth of a millimetre
NOMINAL = 0.02  # how far our nominal may lie from a basic size printed without limits, as a share of it


@cache
def data(name: str) -> Table:
    """One of the files of `proving/data/`.

    Examples
    --------
    >>> data("lands_cases")["case"][0]["id"]
    'K-0402-A'
    """
    text = resources.files("landwise.proving").joinpath("data", f"{name}.toml").read_text(encoding="utf-8")
    return MappingProxyType(tomllib.loads(text))


def gathered() -> Iterator[Case]:
    """All of them."""
    yield from land_cases()
    yield from fatigue_bounds()
    yield from transfer_bounds()
    yield from drawn_dimensions()


def printed_land(case: Table) -> dict[str, float]:
    """A printed land in outer, inner, centre, length and width, whichever of them the maker chose."""
    given: dict[str, float] = dict(case["published"])
    if "centre" in given:
        given.setdefault("outer", given["centre"] + given["length"])
        given.setdefault("inner", given["centre"] - given["length"])
    elif "inner" not in given:
        given["inner"] = given["outer"] - 2 * given["length"]
    given.setdefault("centre", (given["outer"] + given["inner"]) / 2)
    given.setdefault("length", (given["outer"] - given["inner"]) / 2)
    return given


def land_cases() -> Iterator[Case]:
    """Every gated number of `lands_cases.toml`: what makers print against the toe, heel and side method."""
    for case in data("lands_cases")["case"]:
        sizes = {name: case[name] for name in ("form", "level", "span_mm", "foot_mm", "width_mm")}
        for size in case["gates"]:
            printed = printed_land(case)[size]
            within = case["tolerance_mm"]
            yield Case(
                table="printed-lands",
                title=f"Land of {case['title']}, level {case['level']}: {size}",
                says=case["printed_by"],
                answers="measure lands.plain",
                inputs=MappingProxyType({"size": size, **sizes}),
                expected=printed,
                low=printed - within,
                high=printed + within,
                unit="mm",
                source=case["source"],
                mark=case["mark"],
                kind="outside",
                sort="worked",
            )


def fatigue_bounds() -> Iterator[Case]:
    """Thermal-cycling results that bound a life: the method's interval must reach the right side of each."""
    for test in data("fatigue_tests")["bound"]:
        least = "at_least" in test
        inputs: Fields = {
            "kind": test["kind"],
            "swing": test["high_c"] - test["low_c"],
            "dwell": test["dwell_min"],
            "top": test["high_c"],
            "share": test["share"],
            "side": "high" if least else "low",
        }
        if "package" in test:
            inputs |= {"package": test["package"], "metal": test["lead_metal"]}
        else:
            inputs |= {"dnp": test["dnp_mm"], "height": test["height_mm"], "expansion": test["expansion_ppm_k"]}
        yield Case(
            table="fatigue-bounds",
            title=f"Cycles of {test['name']}",
            says=f"{test['printed_by']}; assumed: {test['assumed']}",
            answers="measure life.bound",
            inputs=MappingProxyType(inputs),
            expected=None,
            low=test["at_least"] if least else 0.0,
            high=math.inf if least else test["at_most"],
            unit="cycles",
            source=test["source"],
            mark=source(test["source"]).mark,
            kind="outside",
            sort="worked",
        )


def transfer_bounds() -> Iterator[Case]:
    """What published prints say of the transfer. A statement that the band was made from is no evidence."""
    for bound in bounds_met():
        if bound.met is None:
            continue
        yield Case(
            table="transfer-bounds",
            title=f"Paste transfer {bound.id}",
            says=f"{bound.says} ({bound.printed})",
            answers="measure printing.transfer_bound",
            inputs=MappingProxyType({"bound": bound.id}),
            expected="agrees",
            low=-math.inf,
            high=math.inf,
            unit="",
            source=bound.source,
            mark=source(bound.source).mark,
            kind="own arithmetic" if bound.built_in else "outside",
            sort="worked",
            known="" if bound.met else "a copper-defined land that holds its paste badly; the band knows no lands",
        )


def drawn(key: str, outline: Outline, dimension: str) -> tuple[float | None, float | None, float | None] | None:
    """What a drawing prints of a dimension for that outline: (min, max, nominal); None where it is silent."""
    table = data("outline_drawings").get(key, {})
    single = table.get(outline.name, table.get(str(outline.terminals), {}))
    value = single.get(dimension, table.get(dimension))
    if value is None:
        return None
    if isinstance(value, dict):
        return value.get("min"), value.get("max"), None
    return (*value, None) if isinstance(value, list) else (None, None, value)


def drawn_limits(outline: Outline, dimension: str, keys: tuple[str, ...]) -> dict[str, tuple[float, float, str]]:
    """For min, max and nom: what the drawings print of it together, how near ours must lie, and whose it is.

    Limits span what all drawings print; a basic size is that of the drawing nearest to ours.
    """
    texts = [(text, key) for key in keys if (text := drawn(key, outline, dimension))]
    found: dict[str, tuple[float, float, str]] = {}
    lows = [(text[0], key) for text, key in texts if text[0] is not None]
    highs = [(text[1], key) for text, key in texts if text[1] is not None]
    nominals = [(text[2], key) for text, key in texts if text[2] is not None]
    if lows:
        value, key = min(lows)
        found["min"] = (value, INCH_MM, key)
    if highs:
        value, key = max(highs)
        found["max"] = (value, INCH_MM, key)
    if nominals:
        ours = getattr(outline, dimension)
        nominal = ours.nom if isinstance(ours, Range) else ours
        value, key = min(nominals, key=lambda one: abs(one[0] - nominal))
        found["nom"] = (value, NOMINAL * nominal, key)
    return found


def drawn_dimensions() -> Iterator[Case]:
    """Every dimension of the catalogue that a typed drawing prints, each limit by itself."""
    for outline in catalogue().values():
        for reading in readings(outline):
            for limit, (value, within, key) in drawn_limits(outline, reading.dimension, reading.sources).items():
                yield Case(
                    table="outline-drawings",
                    title=f"{outline.name}: {reading.dimension} {limit}",
                    says="the drawing's dimension, typed from it",
                    answers="measure parts.dimension",
                    inputs=MappingProxyType({"outline": outline.name, "dimension": reading.dimension, "limit": limit}),
                    expected=value,
                    low=value - within,
                    high=value + within,
                    unit="mm",
                    source=key,
                    mark=source(key).mark,
                    kind="outside",
                    sort="catalogue row",
                )
