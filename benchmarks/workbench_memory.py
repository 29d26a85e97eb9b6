"""Whether the workbench's memory stays flat: 2,000 moves of sliders and 20 reviews in one process, by its own count.

The process's resident memory is read after a first round, which fills what is kept, and after each further one. Run
with `make memory`; it says each round's figures and ends with 1 if a later round added more than `MOST_MB`.
"""

from __future__ import annotations

import gc
import io
import sys
import tempfile
import time
import zipfile
from itertools import pairwise
from pathlib import Path

from starlette.testclient import TestClient

from landwise.workbench.app import make_app
from landwise.workbench.workspace import Workspace

ORIGIN = "http://127.0.0.1:8037"
EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "logger" / "fabrication"
QUESTION = {"number": "74LVC245", "present": "SO-20W", "quick": "1", "room": "970", "tab": "a-tab"}
ROUNDS = 5
MOVES = 400
REVIEWS = 4
MOST_MB = 40.0  # a round after the first may add


def main() -> int:
    """Print a line for each round."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as made:
        for file in sorted(EXAMPLE.iterdir()):
            made.write(file, file.name)
    held = []
    with (
        tempfile.TemporaryDirectory() as folder,
        TestClient(make_app(Workspace(Path(folder))), base_url=ORIGIN, headers={"origin": ORIGIN}) as client,
    ):
        for number in range(ROUNDS):
            for n in range(MOVES):
                at = number * MOVES + n
                place = {"foil": f"{80 + at % 700 / 10:.1f} um", "reduction": f"{at % 41} um", "turn": str(at)}
                assert client.get("/part/row", params=QUESTION | place).status_code == 200
            for _ in range(REVIEWS):
                sent = client.post("/reviews", files={"file": ("logger.zip", packed.getvalue())}, follow_redirects=True)
                while sent.status_code == 200 and "data-job" in sent.text:
                    time.sleep(0.1)
                    sent = client.get(sent.url)
                assert sent.status_code == 200, sent.text[:500]
            gc.collect()
            held.append(resident_mb())
            print(f"round {number + 1}: {MOVES} moves, {REVIEWS} reviews, {held[-1]:.0f} MB")
    most = max(after - before for before, after in pairwise(held[1:]))
    print(f"a round after the second added {most:.1f} MB at most; {MOST_MB:g} are let")
    return int(most > MOST_MB)


def resident_mb() -> float:
    """Memory of this process that lies in the machine's own. [MB]"""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    raise SystemExit("this system does not tell how much memory a process holds")


if __name__ == "__main__":
    sys.exit(main())
