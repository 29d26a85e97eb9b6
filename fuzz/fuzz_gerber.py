"""Coverage-guided fuzzing of the Gerber and drill readers: `make fuzz`. Every input is read or refused, never crashes.

    python fuzz/fuzz_gerber.py [SECONDS] [SEED]

Inputs that make the readers take a step between lines that none before took, or refuse with other words, are kept and
changed further (`guide.py`). The first crash, and the first input that takes more processor time than any may, is
printed and ends the run with 1.
"""

from __future__ import annotations

import importlib
import pkgutil
import random
import re
import sys
import time
from pathlib import Path
from types import ModuleType

from landwise.errors import LandwiseError
from landwise.fabdata import drills, gerber
from landwise.fabdata.drills import read_drill
from landwise.fabdata.gerber import Limits, read_gerber

sys.path.insert(0, str(Path(__file__).parent))
from guide import Guide, Pool  # a script's own folder, also where the file is loaded by its path

CORPUS = Path(__file__).parent / "corpus"
SMALL = Limits(objects=20_000, vertices=200_000, statements=50_000)
SECONDS = 60.0
MOST_SECONDS = 20.0  # of processor time for one input, followed line by line
STATEMENT = re.compile(rb"%[^%]*%?|[^%*\n]*[*\n]?")  # of Gerber, between its percent signs too; of a drill file a line
WORDS = (
    *(b"G36*", b"G37*", b"G01*", b"G02*", b"G03*", b"G74*", b"G75*", b"G70*", b"G71*", b"G90*", b"G91*", b"G04 a*"),
    *(b"D01*", b"D02*", b"D03*", b"D10*", b"D11*", b"M02*", b"M00*", b"%LPC*%", b"%LPD*%", b"%LMXY*%", b"%LR45*%"),
    *(b"%LS0.5*%", b"%SRX2Y3I5J5*%", b"%SR*%", b"%ABD12*%", b"%AB*%", b"%MOIN*%", b"%MOMM*%", b"%FSLAX24Y24*%"),
    *(b"%FSTAX46Y46*%", b"%ADD11C,0.5X0.2*%", b"%ADD12R,1X2X0.5*%", b"%ADD13O,1X2*%", b"%ADD14P,1X6X30X0.2*%"),
    *(b"%AMB*1,1,$1,0,0*%", b"%ADD15B,1*%", b"%AMC*$2=$1x2*4,1,3,0,0,1,0,1,1,0,0,$2*%", b"%TF.FilePolarity,Negative*%"),
    *(b"%TO.C,U1*%", b"%TO.P,U1,3*%", b"%TA.AperFunction,SMDPad,CuDef*%", b"%TD*%", b"%IPNEG*%", b"%OFA1B2*%"),
    *(b"%SFA2B2*%", b"%ASAYBX*%", b"%MIA1B0*%", b"%IR90*%", b"20,1,0.3,0,0,1,1,0*", b"21,1,1,1,0,0,45*"),
    *(b"22,1,1,1,0,0,0*", b"5,1,5,0,0,1,0*", b"7,0,0,1,0.5,0.1,0*", b"6,0,0,2,0.1,0.1,3,0.1,1,0*", b"I1000J-1000"),
    *(
        b"M48\n",
        b"METRIC,TZ\n",
        b"INCH,LZ\n",
        b"T1C0.8\n",
        b"T01\n",
        b"X1Y1G85X5Y5\n",
        b"R5X1\n",
        b"M30\n",
        b"FMAT,2\n",
    ),
    *(b"G00X1Y1\n", b"M15\n", b"M16\n", b"G05\n", b"G93X1Y1\n", b"X1.5Y-2.25\n", b"ICI,ON\n", b";\n", b"%\n"),
    *(b"1e9", b"nan", b"inf", b"\x00", b"\xff", b"\xef\xbb\xbf", b"\r\n", b"*", b"%", b"$1", b"(", b")", b"/0", b"x-1"),
)


def one(data: bytes) -> str:
    """Read one input both ways; only landwise's own errors may come out. What each was refused with."""
    said = []
    for read in (read_gerber, read_drill):
        try:
            read(data, "fuzz", SMALL)
        except LandwiseError as error:
            said.append(str(error))
    return " | ".join(said)


def followed() -> list[ModuleType]:
    """The readers' own modules."""
    inside = [importlib.import_module(f"{gerber.__name__}.{its.name}") for its in pkgutil.iter_modules(gerber.__path__)]
    return [drills, gerber, *inside]


def hostile() -> list[tuple[str, bytes]]:
    """Layers that ask for more than they may: each is refused, or read in bounded time."""
    rng = random.Random(18)
    head = "%FSLAX46Y46*%%MOMM*%"

    def places(count: int, reach: int) -> list[tuple[int, int]]:
        return [(rng.randrange(reach), rng.randrange(reach)) for _ in range(count)]

    def draws(points: list[tuple[int, int]]) -> str:
        return "".join(f"X{x}Y{y}D01*" for x, y in points)

    flash = "D10*X0Y0D03*M02*"
    ring = "".join(f"1,1,1,{k % 7},{k % 11}*" for k in range(50_000))
    return [
        ("a macro that divides by zero", (head + "%AMA*1,1,$1/$2,0,0*%%ADD10A,1X0*%" + flash).encode()),
        (
            "a macro of brackets in brackets",
            (head + "%AMA*1,1," + "(" * 20_000 + "1" + ")" * 20_000 + ",0,0*%%ADD10A,1*%" + flash).encode(),
        ),
        ("a macro of very many primitives", (head + f"%AMA*{ring}%%ADD10A*%" + flash).encode()),
        ("a polygon of very many corners", (head + "%AMA*5,1,1000000000,0,0,1,0*%%ADD10A*%" + flash).encode()),
        ("a block that flashes itself", (head + "%ADD10C,1*%%ABD11*%D11*X0Y0D03*%AB*%D11*X0Y0D03*M02*").encode()),
        ("blocks that are never closed", (head + "%ADD10C,1*%" + "%ABD11*%" * 2000 + flash).encode()),
        ("a negative aperture", (head + "%ADD10C,-1*%" + flash).encode()),
        ("an aperture that is no number", (head + "%ADD10C,nan*%" + flash).encode()),
        ("a place that is no number", (head + "%ADD10C,1*%D10*XnanYnanD03*M02*").encode()),
        ("a place with an exponent", (head + "%ADD10C,1*%D10*X1e999Y0D03*M02*").encode()),
        ("a place of very many digits", (head + "%ADD10C,1*%D10*X" + "9" * 5000 + "Y0D03*M02*").encode()),
        ("arcs as wide as a country", (head + "%ADD10C,1*%G75*D10*G02X0Y1I900000000000J1D01*M02*").encode()),
        ("a region that crosses itself", (head + "G36*X0Y0D02*" + draws(places(20_000, 10**8)) + "G37*M02*").encode()),
        (
            "flashes over each other",
            (
                head + "%ADD10C,1*%D10*" + "".join(f"X{x}Y{y}D03*" for x, y in places(60_000, 2 * 10**7)) + "M02*"
            ).encode(),
        ),
        (
            "strokes across each other",
            (head + "%ADD10C,0.2*%D10*X0Y0D02*" + draws(places(15_000, 5 * 10**7)) + "M02*").encode(),
        ),
        ("repeats of repeats", (head + "%SRX30000Y30000I1J1*%%ADD10C,1*%D10*X0Y0D03*%SR*%M02*").encode()),
        ("very many apertures", (head + "".join(f"%ADD{k}C,1*%" for k in range(10, 60_000)) + flash).encode()),
        (
            "blocks that double",
            (
                head
                + "%ADD10C,1*%"
                + "".join(f"%ABD{11 + k}*%D{10 + k}*X0Y0D03*X1000000Y0D03*%AB*%" for k in range(25))
                + "D35*X0Y0D03*M02*"
            ).encode(),
        ),
        ("a format of nine digits", b"G04 a*\n%FSLAX99Y99*%%MOMM*%%ADD10C,1*%" + flash.encode()),
        ("a format of no digits", b"%FSLAX00Y00*%%MOMM*%%ADD10C,1*%" + flash.encode()),
        ("blanks without end", b" " * 300_000 + b"q"),
        ("stars without end", (head + "*" * 300_000 + "%ADD10C,1*%" + flash).encode()),
        (
            "apertures of size nothing",
            (head + "%ADD10C,1*%%ADD11C,0*%%ADD12R,0X1*%" + "D11*X0Y0D03*X1Y1D01*D12*X5Y5D03*" + flash).encode(),
        ),
        ("a mark of byte order", b"\xef\xbb\xbf" + (head + "%ADD10C,1*%D10*X0Y0D03*M02*").encode()),
    ]


def guided(seconds: float, seed: int = 1, most: int = 10**12) -> tuple[int, str]:
    """Change the corpus, and what reached anything new, for a while: inputs tried, and what crashed (empty if nothing).

    Parameters
    ----------
    seconds : float
    seed : int
    most : int
        Inputs.
    """
    rng, guide = random.Random(seed), Guide(followed())
    pool = Pool([path.read_bytes() for path in sorted(CORPUS.iterdir())], rng)
    for data in pool.seeds:
        guide.new(one, data)
    end, count, first = time.monotonic() + seconds, 0, len(guide.steps)
    while count < most and time.monotonic() < end:
        data = pool.changed(WORDS, STATEMENT)
        began = time.process_time()
        try:
            fresh = guide.new(one, data)
        except Exception as error:
            return count, f"seed {seed}, input {count}: {error!r}\n{data!r}"
        if time.process_time() - began > MOST_SECONDS:
            return count, f"seed {seed}, input {count}: {time.process_time() - began:.0f} s\n{data!r}"
        if fresh:
            pool.keep(data)
        count += 1
    print(f"steps between lines: {first} by the corpus, {len(guide.steps)} now; {len(pool.kept)} inputs kept")
    return count, ""


def main() -> int:
    """Run for the seconds given, 60 by default."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else int(time.time())
    for _, data in hostile():
        one(data)
    count, crash = guided(seconds, seed)
    print(crash or f"{count} inputs, none crashed")
    return int(bool(crash))


if __name__ == "__main__":
    raise SystemExit(main())
