"""Boards put together by counting alone: loops over parts, joints and pairs, no class of like joints, no weights."""

from __future__ import annotations

import numpy as np

from landwise.assembly import mechanisms as m


def share_of_good_boards(kinds, boards, seed=1):
    """Boards without a defect, of parts (model, count) that share print, slump and a part of the volume."""
    rng = np.random.default_rng(seed)
    bad = np.zeros(boards, dtype=bool)
    common = rng.standard_normal((len(m.COMMON), boards))
    for model, count in kinds:
        for _ in range(count):
            bad |= bad_parts(model, common, rng)
    return 1 - bad.mean()


def bad_parts(model, common, rng):
    """Whether one part is bad on each board: every joint and pair looked at in turn."""
    boards = common.shape[1]
    at = m.shared(np.vstack([common, rng.standard_normal((len(m.OWN), boards))]), model)
    up = m.floats(model, at)
    bad = up | m.skewed(model, at)
    volumes, edges = [], []
    for joint in model.joints:
        volume = m.relative_volume(model, joint, at, rng.standard_normal(boards))
        volumes.append(volume)
        edges.append(m.spread_mm(model, joint, at, volume) + m.noise_mm(model, joint) * rng.standard_normal(boards))
        height = joint.lift_um + joint.lift_sd_um * rng.standard_normal(boards) + at.bow_um * joint.bow
        if joint.counts:
            reached = (height <= m.lift_allowed_um(model, joint, at, volume)) & (volume >= joint.flux_share)
            bad |= ~reached & ~up
    for pair in model.pairs:
        ends = model.joints[pair.first], model.joints[pair.second]
        left = m.left_apart_mm(pair, ends, at, edges[pair.first], edges[pair.second])
        touching = np.min(left, axis=0) <= 0
        full = m.fullness(pair, ends, volumes[pair.first], volumes[pair.second])
        bad |= touching & (
            np.log(np.maximum(full, 1e-300)) > model.scatter["take_back_spread"] * rng.standard_normal(boards)
        )
    return bad | m.tilted(model, np.array(volumes))
