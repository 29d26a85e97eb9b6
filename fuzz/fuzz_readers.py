"""Hostile input for every other reader: tables, study files and board files. `make fuzz` runs it after the Gerber one.

    python fuzz/fuzz_readers.py [SECONDS] [READER ...]

Each seed is a small invented file that its reader takes. Bytes are changed by chance, lines dropped, doubled and
crossed between seeds; every input is read or refused with one of landwise's own errors. The first crash is printed with
its seed number and input, and ends the run with 1.
"""

from __future__ import annotations

import random
import re
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from landwise.errors import LandwiseError
from landwise.fabdata.bills import read_bill
from landwise.fabdata.boardfile import read_board_file
from landwise.fabdata.defectcounts import read_defects
from landwise.fabdata.inspection import read_inspection
from landwise.fabdata.ipc2581 import read_product_data
from landwise.fabdata.offerlists import read_offers
from landwise.fabdata.placementchecks import read_placement_checks
from landwise.fabdata.placements import read_placements
from landwise.outlines import read_outlines
from landwise.review.decisions import parsed
from landwise.review.mending.rules import rules_of
from landwise.study.file import read_study
from landwise.study.linefile import read_line_file
from landwise.study.offers import read_offer_file

ROOT = Path(__file__).resolve().parents[1]
EXAMPLE, DOCS = ROOT / "examples" / "logger", ROOT / "docs"
SECONDS = 60.0
SPECIAL = (
    *(b"1e999", b"-0", b"nan", b"inf", b"99999999999999999999", b"1,5", b"0 um", b"-3 mil", b"\x00", b"\xff\xfe"),
    *(b"\xef\xbb\xbf", b"\r\n", b'"', b"=1+1", b"[[", b"]", b"{", b"}", b"<", b"/>", b"&a;", b"(", b")", b";", b"\t"),
    *("٣".encode(), "µm".encode(), b"true", b"[]", b'""', b"1979-05-27", b"any", b"../../x"),
)
SCENARIOS = b"""
[[scenario]]
name = "as planned"
[[scenario]]
name = "the large order, abroad"
run = 50000
line = "fine"
rates = { placement = 0.008 }
prices = { U3 = { "TSSOP-14" = 0.09 } }
"""
LINE = b"""[line]
foils = ["100 um", "125 um"]
[line.scatter]
print_offset = "30 um"
[[line.counts]]
family = "gull-wing dual"
kind = "bridge"
defects = 3
joints = 120000
"""
OUTLINE = re.findall(r"```toml\n(# Two rows.*?)```", (DOCS / "outlines.md").read_text(encoding="utf-8"), re.S)[
    0
].encode()
OFFERS = b"""[[offer]]
order_code = "SN74LVC1G08DBVR"
maker = "Maker"
outline = "SOT-23-5"
prices = { "1" = 0.031, "1000" = 0.025 }
stock = 9000
"""
LIST = b"Manufacturer Part Number,Manufacturer,Package,Price,Stock\nSN74LVC1G08DBVR,Maker,SOT-23-5,0.031,9000\n"
PASTE = b"Panel,Component,Pad,Volume(%),Height(um),X(mm),Y(mm),Date\n" + b"".join(
    b"%d,U1,%d,9%d,101,1.%d,2,2026-05-01 10:0%d\n" % (n // 3, n, n, n, n) for n in range(9)
)
CHECKS = b"board,part,dx [um],dy [um],turn\n" + b"".join(b"%d,U%d,1%d,-2%d,0.%d\n" % (n, n, n, n, n) for n in range(9))
COUNTS = b"family,kind,defects,joints\ngull-wing dual,bridge,3,120000\nleadless dual,open,1,50000\n"
BOARD_FILE = b"""(kicad_pcb (version 20221018) (general (thickness 1.6))
 (layers (0 "F.Cu" signal) (31 "B.Cu" signal) (35 "F.Paste" user)) (net 0 "") (net 1 "A")
 (footprint "x:SOT-23-5" (layer "F.Cu") (at 10 20 90) (attr smd)
  (property "Reference" "U1") (property "Value" "74LVC1G08")
  (pad "1" smd roundrect (at -1.1 0.95) (size 1.3 0.6) (layers "F.Cu" "F.Paste" "F.Mask")
   (roundrect_rratio 0.25) (net 1 "A")))
 (gr_line (start 0 0) (end 30 0) (layer "Edge.Cuts")))
"""
PRODUCT = b"""<?xml version="1.0"?><IPC-2581 revision="B" xmlns="http://webstds.ipc.org/2581"><Content roleRef="Owner">
<StepRef name="b"/><LayerRef name="TOP"/><DictionaryStandard units="MILLIMETER"><EntryStandard id="R1">
<RectCenter width="1.3" height="0.6"/></EntryStandard></DictionaryStandard></Content>
<Ecad name="e"><CadHeader units="MILLIMETER"/>
<CadData><Layer name="TOP" layerFunction="SOLDERPASTE" side="TOP" polarity="POSITIVE"/><Step name="b">
<Component refDes="U1" packageRef="P" layerRef="TOP" mountType="SMT" part="74">
<Xform rotation="90"/><Location x="1" y="2"/></Component>
<LayerFeature layerRef="TOP"><Set><Pad><Location x="1" y="2"/><StandardPrimitiveRef id="R1"/></Pad></Set></LayerFeature>
</Step></CadData></Ecad></IPC-2581>
"""
DECISIONS = b"""[[decision]]
answer = "refuse"
package = "QFN-56*"
part = "U3"
rule = "panes"
side = "top"
opening = [12.35, 40.10]
proposal = 3
note = "vias between the windows"
"""
RULES = (ROOT / "src" / "landwise" / "review" / "mending" / "print_rules.toml").read_bytes()


def from_path(read: Callable[[Path], object], ending: str) -> Callable[[bytes, Path], object]:
    """A reader of paths, given bytes and a folder to write them in."""

    def one(data: bytes, folder: Path) -> object:
        path = folder / f"fuzz.{ending}"
        path.write_bytes(data)
        return read(path)

    return one


def from_bytes(read: Callable[[bytes, str], object]) -> Callable[[bytes, Path], object]:
    """A reader of bytes and a name."""
    return lambda data, _: read(data, "fuzz")


def outlines(data: bytes, _: Path) -> object:
    """Outline files are handed over as text."""
    return read_outlines(data.decode("utf-8", errors="replace"), file="fuzz")


# Reader → how it is called, and its seeds. Scenarios and families are read from studies.
READERS: dict[str, tuple[Callable[[bytes, Path], object], tuple[bytes, ...]]] = {
    "study": (from_path(read_study, "toml"), ((EXAMPLE / "board.toml").read_bytes(),)),
    "scenarios": (from_path(read_study, "toml"), ((EXAMPLE / "board.toml").read_bytes() + SCENARIOS,)),
    "line": (from_path(read_line_file, "toml"), (LINE,)),
    "outlines": (outlines, (OUTLINE,)),
    "offers": (from_path(read_offer_file, "toml"), (OFFERS,)),
    "offer list": (from_path(read_offers, "csv"), (LIST,)),
    "bill": (from_path(read_bill, "csv"), ((EXAMPLE / "bom.csv").read_bytes(),)),
    "placement": (
        from_path(read_placements, "csv"),
        ((EXAMPLE / "fabrication" / "logger-placement.csv").read_bytes(),),
    ),
    "inspection": (from_path(read_inspection, "csv"), (PASTE,)),
    "placement checks": (from_path(read_placement_checks, "csv"), (CHECKS,)),
    "defect counts": (from_path(read_defects, "csv"), (COUNTS,)),
    "board file": (from_bytes(read_board_file), (BOARD_FILE,)),
    "product data": (from_bytes(read_product_data), (PRODUCT,)),
    "decisions": (from_bytes(parsed), (DECISIONS,)),
    "rules": (from_bytes(rules_of), (RULES,)),
}


def changed(rng: random.Random, seeds: tuple[bytes, ...]) -> bytes:
    """A seed with bytes, words and lines changed by chance."""
    data = bytearray(rng.choice(seeds))
    for _ in range(rng.randint(1, 6)):
        at, way = rng.randrange(len(data) + 1), rng.random()
        if way < 0.3:
            data[at : at + 1] = bytes([rng.randrange(256)])
        elif way < 0.6:
            data[at : at + rng.randint(0, 6)] = rng.choice(SPECIAL)
        elif way < 0.75:
            lines = bytes(data).split(b"\n")
            spot = rng.randrange(len(lines))
            lines[spot : spot + 1] = [lines[spot]] * rng.choice((0, 2))
            data = bytearray(b"\n".join(lines))
        elif way < 0.95:
            other = rng.choice(seeds)
            cut = rng.randrange(len(other))
            data[at : at + rng.randint(0, 9)] = other[cut : cut + rng.randint(0, 30)]
        else:
            del data[at:]
    return bytes(data)


def by_chance(name: str, seconds: float, seed: int = 1, most: int = 10**9) -> tuple[int, str]:
    """Change a reader's seeds for a while: the number of inputs tried, and what crashed (empty if nothing)."""
    read, seeds = READERS[name]
    end, count = time.monotonic() + seconds, 0
    with tempfile.TemporaryDirectory() as scratch:
        while count < most and time.monotonic() < end:
            data = changed(random.Random(f"{seed} {name} {count}"), seeds)
            try:
                read(data, Path(scratch))
            except LandwiseError:
                pass
            except Exception as error:
                return count, f"{name}, seed {seed}, input {count}: {error!r}\n{data!r}"
            count += 1
    return count, ""


def main() -> int:
    """Each reader its share of the seconds."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS
    names, crashes = sys.argv[2:] or list(READERS), []
    for name in names:
        count, crash = by_chance(name, seconds / len(names), seed=int(time.time()))
        print(crash or f"{name}: {count} inputs, none crashed", flush=True)
        crashes += [crash] if crash else []
    return int(bool(crashes))


if __name__ == "__main__":
    raise SystemExit(main())
