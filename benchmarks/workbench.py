"""How long the workbench takes from a slider's move to the new picture, over a real connection.

Each question is opened, looked at for a while as a person would, and then each slider is dragged from place to
place. Times are from sending the move to holding the whole answer, drawings and all. Run with
`python benchmarks/workbench.py`; the target is 100 ms for 95 of 100 moves. A busy machine shows: the bare round
trip of the same connection is printed beside it.
"""

from __future__ import annotations

import http.client
import json
import re
import subprocess
import sys
import tempfile
import time
from urllib.parse import urlencode

QUESTIONS = {
    "single gate": {"number": "74LVC1G08", "present": "SOT-23-5"},
    "quad gate": {"number": "74HC132", "present": "SO-14"},
    "octal transceiver": {"number": "74LVC245", "present": "SO-20W"},
    "48 terminals": {"terminals": "48", "present": "SSOP-48"},
}
SLIDERS = {
    "foil": [f"{um} um" for um in range(80, 151, 5)],
    "reduction": [f"{um} um" for um in range(21)],
    "swing": [f"{kelvin} K" for kelvin in range(30, 56)],
    "weight.area": [f"{share / 20:g}" for share in range(1, 20)],
}
LOOK_S = 8.0  # how long a person looks before moving anything
TARGET_MS = 100.0


def main() -> int:
    """Print a line for each slider and the whole; 1 if the target is missed."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-u", "-m", "landwise", "serve", "--port", "0", "--no-open", "--workspace", folder]
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            assert server.stdout is not None
            found = re.search(r"http://([\d.]+):(\d+)/", server.stdout.readline())
            assert found is not None
            return measured(http.client.HTTPConnection(found[1], int(found[2]), timeout=60))
        finally:
            server.terminate()
            server.wait(10)


def measured(line: http.client.HTTPConnection) -> int:
    """Drag everything."""
    bare = sorted(timed(line, "/favicon.ico")[0] for _ in range(50))[25]
    print(f"bare round trip {bare:.1f} ms")
    print(f"{'question':<20} {'slider':<12} {'moves':>5} {'median':>8} {'p95':>8} {'most':>8}  ms")
    everything: list[float] = []
    for title, question in QUESTIONS.items():
        opened, text = timed(line, f"/part?{urlencode(question)}")
        print(f"{title:<20} {'first page':<12} {1:>5} {opened:>8.0f} {'':>8} {'':>8}  {len(text) / 1000:.0f} kB")
        time.sleep(LOOK_S)
        for name, places in SLIDERS.items():
            times = []
            for place in places:
                ms, answer = timed(line, f"/part/row?{urlencode({**question, name: place, 'room': '970'})}")
                assert "html" in json.loads(answer)
                times.append(ms)
            everything += times
            show(title, name, times)
    show("all", "", everything)
    return int(percentile(everything, 95) > TARGET_MS)


def timed(line: http.client.HTTPConnection, path: str) -> tuple[float, bytes]:
    """One request: its time [ms] and its answer."""
    start = time.perf_counter()
    line.request("GET", path, headers={"accept": "application/json"})
    response = line.getresponse()
    text = response.read()
    assert response.status == 200, text[:300]
    return (time.perf_counter() - start) * 1e3, text


def percentile(times: list[float], share: float) -> float:
    """The time that `share` percent stay below."""
    ordered = sorted(times)
    return ordered[min(len(ordered) - 1, int(len(ordered) * share / 100))]


def show(title: str, name: str, times: list[float]) -> None:
    """One line of the table."""
    middle, late = percentile(times, 50), percentile(times, 95)
    print(f"{title:<20} {name:<12} {len(times):>5} {middle:>8.0f} {late:>8.0f} {max(times):>8.0f}")


if __name__ == "__main__":
    raise SystemExit(main())
