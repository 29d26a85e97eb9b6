"""Writing a Gerber layer from openings: X2, millimetres, six decimals, the same bytes for the same input."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from landwise.errors import InputError
from landwise.shapes import Geometry
from landwise.version import __version__

_SCALE = 1_000_000  # 4.6 format: one step is a nanometre


def write_gerber(
    polygons: Sequence[Geometry],
    attributes: Mapping[str, Sequence[str]],
    *,
    components: Sequence[str] = (),
    pins: Sequence[str] = (),
    flashes: Sequence[tuple[str, float, float] | None] = (),
    macros: Sequence[str] = (),
) -> bytes:
    """A layer of dark openings.

    Parameters
    ----------
    polygons : sequence of shapely polygons
        In mm. Upright rectangles become flashes, everything else regions, holes cut by clear ones.
    attributes : mapping
        File attributes, such as `{".FileFunction": ("Paste", "Top")}`.
    components, pins : sequences of str, optional
        Reference and terminal of each opening, written as object attributes.
    flashes : sequence, optional
        For an opening that an aperture draws exactly: the aperture's text, and its middle [mm].
    macros : sequence of str, optional
        Statements that define the macros those apertures are of.

    Raises
    ------
    InputError
        For coordinates beyond the format's 9,999 mm.

    Notes
    -----
    Corners are rounded to 1 nm. Shapes with holes come first, the largest of them before the others, each with its
    holes cut at once: so what lies within a hole stays.

    Examples
    --------
    >>> import shapely
    >>> print(write_gerber([shapely.box(0, 0, 1, 0.5)], {".FileFunction": ("Paste", "Top")}).decode().split("\\n")[4])
    %ADD10R,1.000000X0.500000*%
    """
    lines = [f"%TF.GenerationSoftware,landwise,landwise,{__version__}*%"]
    lines += [f"%TF{name},{','.join(values)}*%" for name, values in attributes.items()]
    lines += ["%FSLAX46Y46*%", "%MOMM*%", *macros]
    codes: dict[str, int] = {}
    body: list[str] = ["%LPD*%", "G01*"]
    named = ("", "")
    for number in _holed_first(polygons):
        shape = polygons[number]
        low, high = np.array(shape.bounds[:2]), np.array(shape.bounds[2:])
        if max(np.abs(low).max(), np.abs(high).max()) >= 9999:
            raise InputError(
                "an opening lies outside what the format holds",
                found=f"{np.abs(low).max():g} mm",
                expected="below 9,999 mm",
            )
        now = (components[number] if len(components) else "", pins[number] if len(pins) else "")
        if now != named:
            body += _named(now)
            named = now
        span = np.rint((high - low) * _SCALE).astype(int)
        twice = np.rint((high + low) * _SCALE).astype(int)
        flash = flashes[number] if len(flashes) else None
        if flash is not None:
            code = codes.setdefault(flash[0], 10 + len(codes))
            body += [f"D{code}*", f"X{round(flash[1] * _SCALE)}Y{round(flash[2] * _SCALE)}D03*"]
        elif _is_box(shape) and not shape.interiors and (twice % 2 == 0).all() and (span > 0).all():
            size = f"R,{int(span[0]) / _SCALE:.6f}X{int(span[1]) / _SCALE:.6f}"
            code = codes.setdefault(size, 10 + len(codes))
            body += [f"D{code}*", f"X{twice[0] // 2}Y{twice[1] // 2}D03*"]
        else:
            body += _region(shape.exterior)
            if len(shape.interiors):
                body.append("%LPC*%")
                body += [line for ring in shape.interiors for line in _region(ring)]
                body.append("%LPD*%")
    if named != ("", ""):
        body.append("%TD*%")
    lines += [f"%ADD{code}{text}*%" for text, code in codes.items()]
    return ("\n".join([*lines, *body, "M02*"]) + "\n").encode("ascii")


def _holed_first(polygons: Sequence[Geometry]) -> list[int]:
    """The order of writing: shapes with holes from the largest on, then the others as they come."""
    holed = [k for k, shape in enumerate(polygons) if len(shape.interiors)]
    inside = set(holed)
    return sorted(holed, key=lambda k: -polygons[k].area) + [k for k in range(len(polygons)) if k not in inside]


def _named(now: tuple[str, str]) -> list[str]:
    part, pin = (_plain(text) for text in now)
    if not part:
        return ["%TD*%"]
    return ["%TD*%", f"%TO.P,{part},{pin}*%"] if pin else ["%TD*%", f"%TO.C,{part}*%"]


def _plain(text: str) -> str:
    """Attribute text with the characters escaped that the format reserves."""
    return "".join(ch if 32 <= ord(ch) < 127 and ch not in "*%,\\" else f"\\u{ord(ch):04X}" for ch in text)


def _is_box(shape: Geometry) -> bool:
    corners = np.asarray(shape.exterior.coords)
    low, high = corners.min(axis=0), corners.max(axis=0)
    on_edge = (np.abs(corners - low) < 5e-7) | (np.abs(corners - high) < 5e-7)
    return len(corners) == 5 and bool(on_edge.all())


def _region(ring: Geometry) -> list[str]:
    points = np.rint(np.asarray(ring.coords) * _SCALE).astype(int)
    first, *rest = points
    return ["G36*", f"X{first[0]}Y{first[1]}D02*", *(f"X{x}Y{y}D01*" for x, y in rest), "G37*"]
