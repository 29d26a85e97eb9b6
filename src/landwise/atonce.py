"""Two halves of a piece of work at once: one here, the other in a copy of this process that ends with it.

A copy knows all that was worked so far and costs some milliseconds, where a process started afresh would have to read
and to be told everything. What it gives travels back through a pipe; whatever it keeps in memory is gone with it.
"""

from __future__ import annotations

import gc
import os
import pickle
import select
import signal
import sys
import threading
import time
import warnings
from collections.abc import Callable
from contextlib import suppress
from typing import NoReturn, TypeVar

S = TypeVar("S")
T = TypeVar("T")
PATIENCE_S, PATIENCE = 20.0, 10.0  # a copy is given up after so long, and so many times what this half took


def both(here: Callable[[], S], there: Callable[[], T], *, copy: bool = True) -> tuple[S, T]:
    """Two results, worked at the same time where this system copies processes safely, else one after the other.

    Parameters
    ----------
    here, there : callable
        `there` is worked in the copy; its result must pickle. Neither waits for the other.
    copy : bool
        False works one after the other in any case, such as for a user who asked for one process.

    Notes
    -----
    Copied only on Linux, from a process without other threads, where more than one core may be used. The copy must not
    use a library whose own threads were started here before, for they are not in the copy. Should it fail, or be
    ended, or not answer, its half is worked here: a fault is then raised from here, as it would be without it.

    Examples
    --------
    >>> both(lambda: 1 + 1, lambda: "two")
    (2, 'two')
    """
    if not (copy and can_copy()):
        return here(), there()
    ours, theirs = os.pipe()
    sys.stdout.flush()
    sys.stderr.flush()
    # Ctrl-C is for the first process, which ends the copy: the copy never hears it, not even as it begins.
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    child = _fork()
    if child == 0:
        _answer(theirs, there)
    os.close(theirs)
    begun = time.monotonic()
    try:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
        made = here()
        told = _all_of(ours, time.monotonic() + PATIENCE_S + PATIENCE * (time.monotonic() - begun))
    finally:
        os.close(ours)
        with suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)  # it has said all, or nobody waits for it any more
        os.waitpid(child, 0)
    # From a copy of ourselves over our own pipe: nobody else wrote it.
    return made, (there() if told is None else pickle.loads(told))


def can_copy() -> bool:
    """Whether a copy of this process can work beside it."""
    return (
        sys.platform == "linux"
        and hasattr(os, "fork")
        and threading.active_count() == 1
        and len(os.sched_getaffinity(0)) > 1
    )


def _fork() -> int:
    with warnings.catch_warnings():
        # Python warns of other threads; those of numeric libraries are told of a copy, Python's own are counted.
        warnings.simplefilter("ignore", DeprecationWarning)
        return os.fork()


def _answer(pipe: int, work: Callable[[], object]) -> NoReturn:
    """Work in the copy, say the result, and end at once: nothing of the copied process is tidied up twice."""
    try:
        gc.disable()
        said = pickle.dumps(work(), protocol=5)
        with os.fdopen(pipe, "wb") as out:
            out.write(len(said).to_bytes(8, "little"))
            out.write(said)
    finally:
        os._exit(0)


def _all_of(pipe: int, until: float) -> bytes | None:
    """All that the copy says; None where it ends, or the time does, before it has said all."""
    said = bytearray()
    while len(said) < 8 or len(said) < 8 + int.from_bytes(said[:8], "little"):
        if not select.select([pipe], [], [], max(0.0, until - time.monotonic()))[0]:
            return None
        more = os.read(pipe, 1 << 20)
        if not more:
            return None
        said += more
    return bytes(said[8:])
