"""Coverage-guided fuzzing of the Gerber and drill readers: `make fuzz`. Every input is read or refused, never crashes.

With the package `atheris` installed it is guided by coverage; without, seeded random mutations of the corpus run.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from pathlib import Path

from landwise.errors import LandwiseError
from landwise.fabdata.drills import read_drill
from landwise.fabdata.gerber import Limits, read_gerber
from landwise.review.decisions import parsed
from landwise.review.mending.rules import rules_of

CORPUS = Path(__file__).parent / "corpus"
SMALL = Limits(objects=20_000, vertices=200_000, statements=50_000)
SECONDS = 60.0


def one(data: bytes) -> None:
    """Read one input both ways; only landwise's own errors may come out."""
    for read in (read_gerber, read_drill):
        try:
            read(data, "fuzz", SMALL)
        except LandwiseError:
            continue
    for parse in (parsed, rules_of):
        try:
            parse(data, "fuzz")
        except LandwiseError:
            continue


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


def by_chance(seconds: float, seed: int = 1) -> int:
    """Mutate the corpus for a while; the number of inputs tried."""
    rng = random.Random(seed)
    seeds = [path.read_bytes() for path in sorted(CORPUS.iterdir())]
    end, count = time.monotonic() + seconds, 0
    while time.monotonic() < end:
        data = bytearray(rng.choice(seeds))
        for _ in range(rng.randint(1, 8)):
            at = rng.randrange(len(data) + 1)
            if rng.random() < 0.5:
                data[at : at + 1] = bytes([rng.choice(b"0123456789XYIJDGMTC*%,.-+$()ALRSOPFU\n")])
            else:
                other = rng.choice(seeds)
                cut = rng.randrange(len(other))
                data[at : at + rng.randint(0, 9)] = other[cut : cut + rng.randint(0, 20)]
        one(bytes(data))
        count += 1
    return count


def main() -> int:
    """Run for the seconds given, 60 by default."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS
    for _, data in hostile():
        one(data)
    try:
        import atheris
    except ModuleNotFoundError:
        print(f"{by_chance(seconds)} inputs, none crashed (random mutations: atheris is not installed)")
        return 0
    with tempfile.TemporaryDirectory() as found:  # what it finds goes there, the corpus stays as it is
        atheris.instrument_all()
        atheris.Setup([sys.argv[0], f"-max_total_time={seconds:g}", found, str(CORPUS)], one)
        atheris.Fuzz()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
