"""A page of HTML that loads nothing from outside: a template with the house's colours and fonts."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

from landwise.sheets.glossary import definitions, marked, opened_in
from landwise.sheets.look import DARK, LIGHT, css

if TYPE_CHECKING:
    from jinja2 import Environment


def html_page(template: str, content: Mapping[str, object], *, room: str = "landwise.sheets") -> str:
    """A template of a room filled in; texts are escaped, drawings are given as `drawing`.

    The first of each trade word on a page of this room opens its definition.

    Parameters
    ----------
    template : str
        File name below the room's `templates`.
    content : mapping
        What the template asks for beside colours and fonts.
    room : str
        The package that holds the template.
    """
    page = _environment(room).get_template(template)
    filled = page.render(
        **content,
        light=LIGHT.colours,
        dark=DARK.colours,
        drawing_css=drawing(css(DARK)),
        fonts=_fonts(),
    )
    return _with_words(filled) if room == "landwise.sheets" else filled


@cache
def _environment(room: str) -> Environment:
    from jinja2 import Environment, PackageLoader

    from landwise.sheets.templatecode import compiled_once

    return compiled_once(
        Environment(loader=PackageLoader(room, "templates"), autoescape=True, trim_blocks=True, lstrip_blocks=True)
    )


def _with_words(page: str) -> str:
    """The page with its trade words marked, and what they mean at its end."""
    page = marked(page)
    said = f'<section class="words" aria-label="words">\n<h2>Words</h2>\n{definitions(opened_in(page))}</section>\n'
    return page.replace("</body>", f"{said}</body>")


def drawing(svg: str | None) -> str:
    """Our own drawing, whose texts are escaped when it is written, to stand in a page as it is; nothing for none."""
    from markupsafe import Markup

    return Markup(svg or "")


@cache
def _fonts() -> dict[str, str]:
    """The fonts as a page carries them: base64 by name."""
    folder = resources.files("landwise.sheets").joinpath("fonts")
    names = ("landwise-sans-regular", "landwise-sans-semibold", "landwise-mono-regular")
    return {name: base64.b64encode(folder.joinpath(f"{name}.woff2").read_bytes()).decode() for name in names}
