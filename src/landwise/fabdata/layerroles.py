"""What a file of a job is: told by its attributes, its comments, its name or its columns."""

from __future__ import annotations

import re
from pathlib import PurePosixPath

from landwise.fabdata.drills import is_drill

UNKNOWN_LAYER = "a Gerber layer of unknown use"


_FUNCTION = re.compile(rb"T(?:F|f)\.FileFunction,([^*%\r\n]{1,200})")


_SIDES = {"top": "top", "bot": "bottom", "bottom": "bottom"}


def recognise(name: str, data: bytes) -> tuple[str, str]:
    """What a file is, and by what it was told.

    Examples
    --------
    >>> recognise("x.gbr", b"%TF.FileFunction,Paste,Top*%%FSLAX46Y46*%M02*")
    ('paste-top', 'attribute Paste,Top')
    >>> recognise("board.GBP", b"%FSLAX24Y24*%%MOIN*%M02*")[0]
    'paste-bottom'
    """
    head = data[:60_000]
    gerber = b"%FS" in head or b"%ADD" in head or b"%MO" in head or re.search(rb"^G0?4[ :*]", head, re.M) is not None
    if gerber and b"\0" not in head[:2000]:
        attribute = _FUNCTION.search(head)
        if attribute:
            role = _by_attribute(attribute[1].decode("latin-1"))
            if role:
                return role, f"attribute {attribute[1].decode('latin-1').strip()}"
        said = _by_comments(head.decode("latin-1"))
        if said:
            return said
        role = _by_name(name)
        return (role, "name") if role else ("other", UNKNOWN_LAYER)
    text = head.decode("latin-1")
    if b"\0" not in head[:2000] and is_drill(text):
        return "drill", "content: a drill header"
    return _by_table(name, data)


def _by_attribute(text: str) -> str | None:
    fields = [part.strip() for part in text.split(",")]
    kind = fields[0].lower()
    side = next((_SIDES[part.lower()] for part in fields[1:] if part.lower() in _SIDES), None)
    simple = {"paste": "paste", "soldermask": "mask", "legend": "legend"}
    if kind in simple and side:
        return f"{simple[kind]}-{side}"
    if kind == "copper":
        return f"copper-{side}" if side else "copper-inner"
    if kind in ("plated", "nonplated", "mixedplating"):
        return "drill"
    return {"profile": "outline"}.get(kind, "other")


def _by_comments(text: str) -> tuple[str, str] | None:
    """Layer names that programs write into comments."""
    lines = re.findall(r"^(?:G0?4[ :]?|;)\s*(.{0,120})", text, re.M)[:60]
    said = [
        m
        for line in lines
        if (m := re.match(r"(?:Layer|Film Name|Layer name|Layer_Physical_Order)\s*:?\s*(.+)", line, re.I))
    ]
    for match in said:
        words = match[1].strip().rstrip("*").lower()
        flat = re.sub(r"[^a-z]+", " ", words.replace("pastemask", "paste ").replace("soldermask", "mask "))
        side = "top" if re.search(r"\btop|primary\b", flat) or words.startswith("top") else None
        side = side or ("bottom" if re.search(r"bot", flat) or words.startswith("bottom") else None)
        for pattern, kind in (("past", "paste"), ("mask", "mask"), ("silk", "legend")):
            if pattern in flat and side:
                return f"{kind}-{side}", f"content: its comments name {words[:40]}"
        if re.search(r"board ?outline", flat) and len(said) == 1:
            return "outline", f"content: its comments name {words[:40]}"
    return None


_SUFFIX = {
    ".gtp": "paste-top",
    ".gbp": "paste-bottom",
    ".tp": "paste-top",
    ".bp": "paste-bottom",
    ".crc": "paste-top",
    ".crs": "paste-bottom",
    ".gts": "mask-top",
    ".gbs": "mask-bottom",
    ".stc": "mask-top",
    ".sts": "mask-bottom",
    ".gtl": "copper-top",
    ".gbl": "copper-bottom",
    ".cmp": "copper-top",
    ".sol": "copper-bottom",
    ".gto": "legend-top",
    ".gbo": "legend-bottom",
    ".plc": "legend-top",
    ".pls": "legend-bottom",
    ".gko": "outline",
    ".gm1": "outline",
    ".gml": "outline",
    ".oln": "outline",
    ".spt": "paste-top",
    ".spb": "paste-bottom",
    ".smt": "mask-top",
    ".smb": "mask-bottom",
    ".toppaste": "paste-top",
}


_TOP = r"(?:^|[^a-z])(?:f|top|t|front|pri|primary|comp|l1)(?:$|[^a-z])"


_BOTTOM = r"(?:^|[^a-z])(?:b|bot|bottom|back|sec|secondary|sold|solder\s*side)(?:$|[^a-z])"


def _by_name(name: str) -> str | None:
    """A layer's role from the habits of file names."""
    path = PurePosixPath(name.lower())
    stem = path.name if path.suffix in ("", ".gbr", ".ger", ".art", ".pho", ".gb", ".txt", ".gbx") else path.stem
    stem = re.sub(r"\.(gbr|ger|art|pho|gb|txt|gbx)$", "", stem)
    short = re.fullmatch(r"(sp|sm|ss)(pr|se)", stem)
    if short:
        kind = {"sp": "paste", "sm": "mask", "ss": "legend"}[short[1]]
        return f"{kind}-{'top' if short[2] == 'pr' else 'bottom'}"
    spread = re.sub(r"(top|bottom|front|back)", r" \1 ", re.sub(r"[._-]+", " ", stem))
    spread = re.sub(r"(solder)?(paste|mask|silkscreen|copper)", r" \2 ", spread)
    side = "top" if re.search(_TOP, spread) else "bottom" if re.search(_BOTTOM, spread) else None
    for pattern, kind in (
        (r"past|cream|stencil", "paste"),
        (r"mask|resist", "mask"),
        (r"silk|legend|overlay", "legend"),
    ):
        if re.search(pattern, spread) and side:
            return f"{kind}-{side}"
    if path.suffix in _SUFFIX:
        return _SUFFIX[path.suffix]
    if re.search(r"edge|outline|profile|border|\bkeepout", spread):
        return "outline"
    if "copper" in spread and side:
        return f"copper-{side}"
    if re.fullmatch(r"g[0-9]|g[1-9][0-9]?|g\d+l|gp\d", path.suffix.lstrip(".")) or re.search(
        r"inner|\bin\d|\bl[2-9]", spread
    ):
        return "copper-inner"
    if (re.search(r"\bcu\b|copper", spread) and side) or spread.strip() in ("top", "bottom"):
        return f"copper-{side}"
    return None


def _by_table(name: str, data: bytes) -> tuple[str, str]:
    """Placement and bill files by their name and the words of their heads."""
    path = PurePosixPath(name.lower())
    if path.suffix not in (".csv", ".txt", ".tsv", ".pos", ".mnt", ".mnb", ".xy", ".xlsx", ".rpt"):
        return "other", "unknown"
    for mark in (b"\xff\xfe", b"\xfe\xff"):
        if data.startswith(mark):
            text = data[:8000].decode("utf-16", errors="replace")
            break
    else:
        text = data[:4000].decode("latin-1")
    low = text.lower()
    placed = re.search(
        r"(pick.?place|placement|\bpos\b|centroid|body.?center|\bcpl\b|-all-pos|top-pos|bottom-pos)", path.stem
    )
    head = re.search(r"(pos ?x|mid ?x|center-?x|ref ?x|x\(mm\)|sym_x|locationx)", low)
    if path.suffix in (".mnt", ".mnb", ".pos") or (placed and path.suffix != ".xlsx") or head:
        return "placement", "content: columns of coordinates" if head else "name"
    if re.search(r"bom|bill|parts", path.stem) or re.search(r"designator|reference|refdes", low):
        return "bill", "name or heading"
    return "other", "unknown"
