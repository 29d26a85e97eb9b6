"""A film repeated into a panel's: its own statements, byte for byte, within one step and repeat."""

from __future__ import annotations

import re
from collections.abc import Sequence

from landwise.errors import InputError
from landwise.fabdata.gerber.model import Layer, Limits
from landwise.fabdata.gerber.tokens import cut
from landwise.quantities import INCH_MM

_SETTING = re.compile(r"G0?4|G7[01]|G9[01]|M0")  # statements that draw nothing and may stand before the image


def repeatable(layer: Layer) -> bool:
    """Whether a film can stand within a repeat: it holds none itself, and no aperture block."""
    return not (re.search(rb"%[^%]*\b(?:SR|AB)", layer.data) or layer.repeats)


def repeated(
    layer: Layer, columns: int, rows: int, pitch_mm: tuple[float, float], *, data: bytes = b"", head: Sequence[str] = ()
) -> bytes:
    """The film's file with everything it draws in columns and rows.

    Parameters
    ----------
    layer : Layer
        As read.
    columns, rows : int
    pitch_mm : (float, float)
    data : bytes, optional
        The file to repeat, where it was edited since it was read; in the layer's unit.
    head : sequence of str, optional
        Comments to put at the head.

    Raises
    ------
    InputError
        For a film that holds a repeat or a block already.

    Examples
    --------
    >>> from landwise.fabdata.gerber.reader import read_gerber
    >>> layer = read_gerber(b"%FSLAX46Y46*%%MOMM*%%ADD10R,1X1*%D10*X0Y0D03*M02*", "a.gtp")
    >>> len(read_gerber(repeated(layer, 3, 2, (5.0, 4.0)), "panel.gtp").pads)
    6
    """
    if not repeatable(layer):
        raise InputError(
            "a film with a repeat or a block can't be repeated as it stands",
            file=layer.file,
            expected="a film of one board, its repeats and blocks written out",
        )
    source = cut(data or layer.data, layer.file, Limits())
    factor = 1.0 if layer.unit == "mm" else INCH_MM
    x, y = (f"{pitch / factor:.8f}".rstrip("0").rstrip(".") for pitch in pitch_mm)
    begin = f"%SRX{columns}Y{rows}I{x}J{y}*%\n"
    image = next(
        start for extended, body, start, _ in source.statements if not extended and body and not _SETTING.match(body)
    )
    end = next(
        (start for extended, body, start, _ in source.statements if not extended and re.fullmatch(r"M0?[02]", body)),
        len(source.text),
    )
    comments = "".join(f"G04 {re.sub(r'[^ -~]|[*%]', '_', line)[:400]}*\n" for line in head)
    tail = source.text[end:] or "M02*\n"
    text = comments + source.text[:image] + begin + source.text[image:end] + "%SR*%\n" + tail
    return text.encode("latin-1")
