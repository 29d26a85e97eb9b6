"""PDF and PNG from SVG, true to size, and PDF from a typst template with JSON data."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Iterable, Mapping
from html import unescape
from importlib import resources
from pathlib import Path
from typing import Literal

from landwise.errors import InputError
from landwise.extras import PDF, SPREADSHEETS, Extra
from landwise.sheets.files import write_atomic

_SIZE = re.compile(r'<svg\b[^>]*?\bwidth="([\d.]+)mm"[^>]*?\bheight="([\d.]+)mm"')
_TITLE = re.compile(r"<title\b[^>]*>(.*?)</title>", re.DOTALL)
PNG_DPI = 200.0


def font_folder() -> Path:
    """Where the shipped fonts lie."""
    return Path(str(resources.files("landwise.sheets").joinpath("fonts")))


def svg_size_mm(svg: str) -> tuple[float, float]:
    """Width and height that an SVG states in mm.

    >>> svg_size_mm('<svg xmlns="…" width="297mm" height="210mm" viewBox="0 0 297 210">')
    (297.0, 210.0)
    """
    found = _SIZE.search(svg)
    if found is None:
        raise InputError("the drawing does not state its size in mm", expected='<svg width="…mm" height="…mm">')
    return float(found[1]), float(found[2])


_MAKES = {PDF: (".pdf", ".png"), SPREADSHEETS: (".xlsx",)}


def if_installed(makers: Mapping[str, Callable[[], bytes]]) -> dict[str, bytes]:
    """The PDF, PNG and spreadsheet files among others, made; none whose extra is not installed.

    Whoever writes the files says so with `left_out`.
    """
    return {name: makers[name]() for name in can_be_made(makers)}


def can_be_made(names: Iterable[str]) -> tuple[str, ...]:
    """Of the names of files, those that this installation makes.

    >>> can_be_made(["report.html", "result.json"])
    ('report.html', 'result.json')
    """
    endings = tuple(ending for extra in _missing() for ending in _MAKES[extra])
    return tuple(name for name in names if not name.endswith(endings))


def _missing() -> list[Extra]:
    return [extra for extra in _MAKES if not extra.installed]


def left_out(folder: Path, *, sheets: bool = False) -> str:
    """What to say of a folder that was written without PDF or spreadsheets, a line each; empty where both are there.

    Parameters
    ----------
    folder : Path
    sheets : bool
        Whether a spreadsheet belongs to what is written there.
    """
    said = []
    for extra in _missing():
        if extra is SPREADSHEETS and not sheets:
            continue
        old = sorted(path.name for ending in _MAKES[extra] for path in folder.glob(f"*{ending}"))
        said.append(extra.says + (f"; from an earlier run, not of this one: {', '.join(old)}" if old else ""))
    return "\n".join(said)


def typst_document(
    main: str,
    *,
    data: object = None,
    files: Mapping[str, bytes] | None = None,
    form: Literal["pdf", "png"] = "pdf",
    dpi: float = PNG_DPI,
) -> bytes:
    """Compile a typst document from memory with the shipped fonts only; no file and no network is read.

    Parameters
    ----------
    main : str
        The document's source. It may read `data.json` and any of `files` by name.
    data : JSON-able, optional
        Given to the document as `data.json`; texts in it need no escaping.
    files : mapping, optional
        File name to content, such as drawings.
    form : {"pdf", "png"}
    dpi : float
        For PNG.

    Notes
    -----
    The document's date is switched off, so that the same input gives the same bytes.

    Raises
    ------
    ExtraError
        If the extra [pdf] is not installed.
    InputError
        If the document does not compile.
    """
    PDF.need()
    import typst

    sources: dict[str, bytes] = {"main.typ": ("#set document(date: none)\n" + main).encode()}
    if data is not None:
        sources["data.json"] = json.dumps(data, ensure_ascii=False, sort_keys=True).encode()
    sources.update(files or {})
    try:
        # The stubs lack the mapping of names to contents that the compiler takes.
        made = typst.compile(  # type: ignore[call-overload]
            sources,
            format=form,
            ppi=dpi,
            font_paths=[str(font_folder())],
            ignore_system_fonts=True,
        )
    except typst.TypstError as error:
        raise InputError("the document does not compile", found=str(error)) from None
    pages: bytes = made if isinstance(made, bytes) else made[0]
    return pages


def typst_pdf(
    main: str, path: str | os.PathLike[str], *, data: object = None, files: Mapping[str, bytes] | None = None
) -> Path:
    """Write a typst document as PDF; see `typst_document`."""
    return write_atomic(path, typst_document(main, data=data, files=files))


def _page(svg: str) -> tuple[str, dict[str, object], dict[str, bytes]]:
    width, height = svg_size_mm(svg)
    title = _TITLE.search(svg)
    main = (
        '#let d = json("data.json")\n'
        "#set document(title: d.title)\n"
        "#set page(width: d.width * 1mm, height: d.height * 1mm, margin: 0mm)\n"
        '#image("drawing.svg", width: d.width * 1mm, height: d.height * 1mm, alt: d.title)\n'
    )
    data = {"width": width, "height": height, "title": unescape(title[1]) if title else "drawing"}
    return main, data, {"drawing.svg": svg.encode()}


def svg_pdf_bytes(svg: str) -> bytes:
    """One page of the drawing's own size, at its own scale."""
    main, data, files = _page(svg)
    return typst_document(main, data=data, files=files)


def svg_to_pdf(svg: str, path: str | os.PathLike[str]) -> Path:
    """Write a drawing as a PDF page of its own size: printed without scaling it measures right."""
    return write_atomic(path, svg_pdf_bytes(svg))


def svg_png_bytes(svg: str, dpi: float = PNG_DPI) -> bytes:
    """The drawing as PNG."""
    main, data, files = _page(svg)
    return typst_document(main, data=data, files=files, form="png", dpi=dpi)


def svg_to_png(svg: str, path: str | os.PathLike[str], dpi: float = PNG_DPI) -> Path:
    """Write a drawing as PNG."""
    return write_atomic(path, svg_png_bytes(svg, dpi))
