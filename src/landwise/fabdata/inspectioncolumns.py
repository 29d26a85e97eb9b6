"""The columns of a paste inspection's export: which heading means what, in which unit; shown, kept, overridable."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from landwise.errors import FileError, InputError
from landwise.fabdata.grids import plain

# Field to the plain spellings of its heading without the unit, most usual first (common practice, no source).
FIELDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        name: tuple(words.split())
        for name, words in {
            "panel": "panelid panel boardid board barcode serial serialnumber pcbid nutzen nutzennr panneau",
            "figure": "figureid figure image imageid array arrayid",
            "part": "componentid component refdes reference designator part bauteil composant repère repere",
            "pin": "pinnumber pin pinno terminal anschluss broche",
            "pad": "padid pad padno depositid",
            "date": "date datum",
            "time": "time timestamp datetime zeit uhrzeit",
            "x": "posx positionx x",
            "y": "posy positiony y",
            "volume": "volume vol volumen",
            "height": "height hoehe höhe h hauteur",
            "area": "area flache fläche surface",
            "offset_x": "offsetx xoffset shiftx xshift offx xoff dx versatzx décalagex decalagex",
            "offset_y": "offsety yoffset shifty yshift offy yoff dy versatzy décalagey decalagey",
            "size_x": "sizex length aperturelength xsize öffnungx offnungx longueurouverture",
            "size_y": "sizey width aperturewidth ysize öffnungy offnungy largeurouverture",
            "area_ratio": "arearatio",
        }.items()
    }
)
MIL_UM = 25.4
# Units a field may stand in, and what takes a value to the unit inside: shares, µm for heights and offsets, mm for
# places and sizes. `absolute` volumes become shares with the aperture's own volume (mm³), absolute areas with its area.
UNITS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "volume": {"%": 0.01, "share": 1.0, "um3": 1e-9, "mm3": 1.0, "nl": 1e-3, "mil3": MIL_UM**3 * 1e-9},
        "area": {"%": 0.01, "share": 1.0, "um2": 1e-6, "mm2": 1.0, "mil2": MIL_UM**2 * 1e-6},
        "height": {"um": 1.0, "mm": 1000.0, "mil": MIL_UM},
        "offset_x": {"%": 0.01, "um": 1.0, "mm": 1000.0, "mil": MIL_UM},
        "offset_y": {"%": 0.01, "um": 1.0, "mm": 1000.0, "mil": MIL_UM},
        "x": {"mm": 1.0, "um": 1e-3, "mil": MIL_UM / 1000, "inch": 25.4},
        "y": {"mm": 1.0, "um": 1e-3, "mil": MIL_UM / 1000, "inch": 25.4},
        "size_x": {"mm": 1.0, "um": 1e-3, "mil": MIL_UM / 1000},
        "size_y": {"mm": 1.0, "um": 1e-3, "mil": MIL_UM / 1000},
        "area_ratio": {"": 1.0},
    }
)
# Taken, and said, where a heading has no unit.
ASSUMED: Mapping[str, str] = MappingProxyType(
    {"volume": "%", "area": "%", "height": "um", "offset_x": "um", "offset_y": "um"}
    | dict.fromkeys(("x", "y", "size_x", "size_y"), "mm")
    | {"area_ratio": ""}
)
REQUIRED = ("panel", "volume")
RELATIVE = ("%", "share")
LARGEST_MAPPING = 100_000
# A unit behind a heading: in brackets, or bare after a blank or an underline (a per cent sign needs neither).
_UNIT = re.compile(
    r"(?:[\(\[]\s*([^\)\]]*?)\s*[\)\]]|(?<=\S)[\s_]+([uµμ]m[23²³]?|mm[23²³]?|mils?|nl|percent)|(?<=\S)\s*(%))\s*$", re.I
)
_SPELLED_UNITS = {
    "µm": "um",
    "μm": "um",
    "micron": "um",
    "percent": "%",
    "mils": "mil",
    "in": "inch",
    "um^3": "um3",
    "µm3": "um3",
    "µm³": "um3",
} | {
    "mm³": "mm3",
    "um^2": "um2",
    "µm2": "um2",
    "µm²": "um2",
    "mm²": "mm2",
    "mm^3": "mm3",
    "mm^2": "mm2",
}


@dataclass(frozen=True)
class InspectionColumns:
    """Field to heading, field to unit, fields whose unit was assumed, and the headings that are not used."""

    fields: Mapping[str, str]
    units: Mapping[str, str]
    assumed: tuple[str, ...]
    passed: tuple[str, ...]

    def table(self) -> dict[str, str]:
        """The mapping as plain text, `heading` or `heading [unit]`: what is shown, kept and read again."""
        return {
            field: f"{heading} [{self.units[field]}]" if self.units.get(field) else heading
            for field, heading in self.fields.items()
        }


def inspection_columns(header: Sequence[str], own: Mapping[str, str] | None = None) -> InspectionColumns:
    """The columns of a header: a user's own mapping first, then known spellings.

    Parameters
    ----------
    header : sequence of str
    own : mapping of str to str
        Field to heading, with `[unit]` behind it where the heading's own is missing or wrong; an empty text leaves the
        field out.

    Raises
    ------
    InputError
        For an unknown field, heading or unit, or without panels or volumes.

    Examples
    --------
    >>> found = inspection_columns(["PanelID", "Volume(%)", "Volume(um3)", "OffsetX(%)", "Note"])
    >>> found.table(), found.passed
    ({'panel': 'PanelID', 'volume': 'Volume(%) [%]', 'offset_x': 'OffsetX(%) [%]'}, ('Volume(um3)', 'Note'))
    """
    names = [name.strip() for name in header]
    fields, units = _own_columns(names, own or {})
    assumed: list[str] = []
    taken = set(fields.values())
    for field, words in FIELDS.items():
        if field in fields:
            continue
        fitting = [name for name in names if name not in taken and plain(_UNIT.sub("", name)) in words]
        # A share needs no aperture: it is taken before an absolute value.
        fitting.sort(key=lambda name: (_parted(name)[1] not in RELATIVE, words.index(plain(_UNIT.sub("", name)))))
        if fitting:
            fields[field] = fitting[0]
            taken.add(fitting[0])
    fields = {field: heading for field, heading in fields.items() if heading}
    for field in REQUIRED:
        if field not in fields:
            raise InputError(
                f"no column of {field}s was found",
                found=", ".join(names[:24]),
                expected=f"a heading such as {FIELDS[field][0]}, or --column {field}=HEADING",
            )
    for field, heading in fields.items():
        if field in UNITS and field not in units:
            unit = _parted(heading)[1]
            units[field] = _unit_of(field, unit) if unit else ASSUMED[field]
            if not unit and ASSUMED[field]:
                assumed.append(field)
    used = set(fields.values())
    return InspectionColumns(
        MappingProxyType({field: fields[field] for field in FIELDS if field in fields}),
        MappingProxyType(units),
        tuple(assumed),
        tuple(name for name in names if name and name not in used),
    )


def _own_columns(names: Sequence[str], own: Mapping[str, str]) -> tuple[dict[str, str], dict[str, str]]:
    """A user's own mapping, checked against the header: headings and units."""
    fields: dict[str, str] = {}
    units: dict[str, str] = {}
    for field, text in own.items():
        if field not in FIELDS:
            raise InputError("no such field", place="column", found=field, expected=" | ".join(FIELDS))
        heading, unit = (text, "") if text in names else _parted(text)
        fields[field] = heading
        if heading and heading not in names:
            raise InputError("no such column", place=field, found=repr(heading), expected=", ".join(names[:24]))
        if unit:
            units[field] = _unit_of(field, unit)
    return fields, units


def read_mapping(path: Path) -> dict[str, str]:
    """The columns that an earlier line file or mapping file kept.

    Raises
    ------
    FileError, InputError
    """
    try:
        if path.stat().st_size > LARGEST_MAPPING:
            raise FileError("too large", file=str(path), expected=f"at most {LARGEST_MAPPING} bytes")
        table = tomllib.loads(path.read_text(encoding="utf-8-sig")).get("columns")
    except OSError as error:
        raise FileError(error.strerror or "can't be read", file=str(path)) from None
    except ValueError as error:  # no text, no TOML, or a number of too many digits
        raise InputError("not a TOML file", file=path.name, found=str(error), expected="a [columns] table") from None
    if not isinstance(table, dict) or not all(isinstance(text, str) for text in table.values()):
        raise InputError("no mapping of columns", file=path.name, expected='[columns] with field = "HEADING [unit]"')
    return table


def _parted(text: str) -> tuple[str, str]:
    """A heading and the unit behind it."""
    match = _UNIT.search(text)
    if not match:
        return text.strip(), ""
    unit = next(group for group in match.groups() if group is not None).lower()
    return text[: match.start()].strip(), _SPELLED_UNITS.get(unit, unit)


def named(heading: str) -> str:
    """The field that a heading is a known spelling of; empty for none.

    >>> named("Vol(%)"), named("H um"), named("Area[%]"), named("Result")
    ('volume', 'height', 'area', '')
    """
    word = plain(_UNIT.sub("", heading))
    return next((field for field, words in FIELDS.items() if word in words), "")


def is_unit(text: str) -> bool:
    """Whether a cell holds a unit and nothing else.

    >>> is_unit("um"), is_unit("µm³"), is_unit("0.2")
    (True, True, False)
    """
    unit = text.strip().lower()
    return any(_SPELLED_UNITS.get(unit, unit) in units for units in UNITS.values()) and bool(unit)


def _unit_of(field: str, unit: str) -> str:
    if field not in UNITS:
        raise InputError("this field has no unit", place=field, found=unit)
    if unit not in UNITS[field]:
        raise InputError("unknown unit", place=field, found=unit, expected=" | ".join(UNITS[field]))
    return unit
