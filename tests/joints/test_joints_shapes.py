"""Molten joints against identities: the spherical zone, force and energy, the circular arc."""

from __future__ import annotations

import math

import numpy as np
import pytest

from landwise.errors import InputError, ValidityError
from landwise.joints.ball import ball_joint, held_ball, zone_height, zone_volume
from landwise.joints.pad import Faces, Molten, _equilibria, _extrapolated, held_joint, pad_joint
from landwise.joints.padmesh import Mesh
from landwise.joints.pull import snap_off
from landwise.quantities import GRAVITY_M_S2

V = math.pi / 6 * 0.30**3
GAMMA = 0.5e-3  # N/mm


def test_without_load_and_gravity_the_joint_is_a_spherical_zone():
    joint = ball_joint([V, 2 * V, V], [0.25, 0.40, 0.25], [0.25, 0.30, 0.20], density_g_cm3=0.0)
    h, r1, r2 = joint.height_mm, np.array([0.125, 0.20, 0.125]), np.array([0.125, 0.15, 0.10])
    assert zone_volume(h, r1, r2) == pytest.approx([V, 2 * V, V], rel=1e-9)
    assert h == pytest.approx(zone_height([V, 2 * V, V], r1, r2), rel=1e-9)


def test_board_force_minus_package_force_is_the_solders_weight():
    joint = ball_joint(V, 0.25, 0.22, load_n=3e-6, density_g_cm3=7.38)
    weight = 7.38e-6 * 9.80665 * V
    assert joint.package_force_n[0] == pytest.approx(3e-6, rel=1e-6)
    assert (joint.board_force_n - joint.package_force_n)[0] == pytest.approx(weight, rel=1e-6)


def surface(joint):
    r, z = joint.r_mm[:, 0], joint.z_mm[:, 0]
    return float(np.sum(math.pi * (r[1:] + r[:-1]) * np.hypot(np.diff(r), np.diff(z))))


@pytest.mark.parametrize("load", [-4e-5, 0.0, 4e-5])
def test_force_is_the_slope_of_the_energy(load):
    low, high = (ball_joint(V, 0.25, 0.25, load_n=load + step, density_g_cm3=0.0) for step in (-2e-6, 2e-6))
    slope = GAMMA * (surface(high) - surface(low)) / (high.height_mm[0] - low.height_mm[0])
    assert -slope == pytest.approx(load, abs=3e-8)


def test_more_load_less_height_and_a_batch_equals_its_parts():
    loads = np.array([0.0, 1e-5, 4e-5, 1e-4])
    batch = ball_joint(V, 0.25, 0.25, load_n=loads)
    assert np.all(np.diff(batch.height_mm) < 0)
    alone = [ball_joint(V, 0.25, 0.25, load_n=load).height_mm[0] for load in loads]
    assert batch.height_mm == pytest.approx(alone, rel=1e-9)


def test_swapping_lands_changes_nothing_without_gravity():
    one, other = (ball_joint(V, *lands, density_g_cm3=0.0) for lands in ((0.25, 0.20), (0.20, 0.25)))
    assert one.height_mm[0] == pytest.approx(other.height_mm[0], rel=1e-9)
    assert one.max_diameter_mm[0] == pytest.approx(other.max_diameter_mm[0], rel=1e-7)


def test_a_contour_below_the_land_is_flagged():
    light, heavy = (ball_joint(V, 0.12, 0.25, load_n=load, density_g_cm3=0.0) for load in (5e-5, 2e-4))
    assert not light.below_board[0]
    assert heavy.below_board[0]
    assert heavy.z_mm.min() < 0


def test_impossible_balls_are_refused():
    with pytest.raises(ValidityError, match="no equilibrium"):
        ball_joint(V, 0.25, 0.25, load_n=0.1)
    with pytest.raises(ValidityError, match="no equilibrium"):
        ball_joint(V, 0.25, 0.25, load_n=-0.1)
    with pytest.raises(InputError):
        ball_joint(-V, 0.25, 0.25)


def arc(width: float, area: float) -> tuple[float, float]:
    """Height and bulge of a long joint: two circular arcs whose pressure carries the terminal's edges."""
    from scipy.optimize import brentq

    def shape(radius: float) -> tuple[float, float, float]:
        half = math.acos(width / (2 * radius))
        height = 2 * radius * math.sin(half)
        return width * height + radius**2 * (2 * half - math.sin(2 * half)), height, radius * (1 - math.cos(half))

    radius = brentq(lambda r: shape(r)[0] - area, width / 2 * (1 + 1e-12), 50)
    return shape(radius)[1:]


def test_a_long_joint_approaches_the_circular_arc():
    height, bulge = arc(0.25, 0.25 * 0.06)
    long, longer = (
        pad_joint(Faces(length, 0.25, length, 0.25), length * 0.25 * 0.06, molten=Molten(density_g_cm3=0.0))
        for length in (2.0, 8.0)
    )
    assert longer.height_mm == pytest.approx(height, abs=5e-5)
    assert longer.bulge_mm == pytest.approx(bulge, rel=0.03)
    assert abs(long.bulge_mm - bulge) > abs(longer.bulge_mm - bulge)


@pytest.mark.parametrize("offset", [0.0, 0.1])
def test_the_mesh_moves_the_height_by_less_than_a_tenth_of_a_micrometre(offset):
    joint = pad_joint(Faces(0.60, 0.25, 0.40, 0.25, offset_mm=offset), 0.008)
    assert joint.height_error_mm < 1e-4
    assert joint.height_mm == pytest.approx(joint.profile_mm[-1, 1], abs=2e-4)


def test_load_lowers_and_a_toe_softens_the_joint():
    def drop(land, offset=0.0):
        volume = land * 0.25 * 0.05
        free, pressed = (
            pad_joint(Faces(land, 0.25, 0.40, 0.25, offset_mm=offset), volume, load_n=load).height_mm
            for load in (0.0, 2e-5)
        )
        return free - pressed

    assert drop(0.40) > 0
    assert drop(0.60, 0.1) > drop(0.40)


def test_impossible_pads_are_refused():
    with pytest.raises(InputError, match="past the land"):
        pad_joint(Faces(0.4, 0.25, 0.5, 0.25), 0.008)
    with pytest.raises(InputError, match="past the land"):
        pad_joint(Faces(0.6, 0.25, 0.4, 0.25, offset_mm=0.2), 0.008)
    with pytest.raises(InputError, match="positive"):
        pad_joint(Faces(0.6, 0.25, 0.4, 0.25), 0.0)


def test_the_meshs_derivatives_are_those_of_its_energy():
    mesh = Mesh((0.85, 0.28), (0.40, 0.23), -0.2, 16, 4, 0.014)
    random = np.random.default_rng(0)
    at = mesh.start()
    at[:-1] += 0.005 * random.standard_normal(at.size - 1)

    def energy(x):
        t = mesh.terms(x)
        return t.area + 0.145 * t.moment - 5.0 * t.volume

    def slope(x):
        t = mesh.terms(x)
        return t.d_area + 0.145 * t.d_moment - 5.0 * t.d_volume

    values, rows, columns = mesh.hessian(at, 0.145, 5.0)
    hessian = np.zeros((at.size, at.size))
    np.add.at(hessian, (rows, columns), values)
    for way in random.standard_normal((4, at.size)):
        step = 1e-6 * way
        assert slope(at) @ way == pytest.approx((energy(at + step) - energy(at - step)) / 2e-6, rel=1e-6)
        assert hessian @ way == pytest.approx((slope(at + step) - slope(at - step)) / 2e-6, abs=1e-4)


# Analytic identity: a round flat-land joint is the axisymmetric one, solved by an independent method.
@pytest.mark.parametrize(
    ("load", "lands"), [(0.0, (0.25, 0.25)), (3e-5, (0.25, 0.25)), (-1e-4, (0.25, 0.25)), (0.0, (0.4, 0.3))]
)
def test_a_round_pad_joint_is_the_ball_joint(load, lands):
    volume = 0.005 if lands[0] < 0.3 else 0.010
    pad = pad_joint(Faces(lands[0], lands[0], lands[1], lands[1], elliptic=True), volume, load_n=load)
    ball = ball_joint(volume, *lands, load_n=load)
    assert pad.height_mm == pytest.approx(ball.height_mm[0], abs=2e-6)
    assert pad.bulge_mm == pytest.approx(ball.max_diameter_mm[0] / 2 - lands[0] / 2, abs=3e-5)


def test_held_and_loaded_joints_agree():
    free = pad_joint(Faces(0.65, 0.25, 0.40, 0.24, offset_mm=-0.125), 0.009)
    held = held_joint(Faces(0.65, 0.25, 0.40, 0.24, offset_mm=-0.125), 0.009, free.height_mm)
    assert abs(held.force_n) < 2e-5
    lower = held_joint(Faces(0.65, 0.25, 0.40, 0.24, offset_mm=-0.125), 0.009, 0.9 * free.height_mm)
    higher = held_joint(Faces(0.65, 0.25, 0.40, 0.24, offset_mm=-0.125), 0.009, 1.1 * free.height_mm)
    assert lower.force_n > held.force_n > higher.force_n


def test_a_toe_makes_the_joint_more_than_ten_times_softer():
    def drop(land, volume):
        free, pressed = (
            pad_joint(Faces(land, 0.25, 0.40, 0.25, offset_mm=(0.40 - land) / 2), volume, load_n=load).height_mm
            for load in (0.0, 1e-4)
        )
        return free - pressed

    assert drop(0.65, 0.65 * 0.25 * 0.055) > 10 * drop(0.40, 0.40 * 0.25 * 0.055)


def test_too_much_solder_spills_and_a_pulled_toe_recedes_from_its_corner():
    assert pad_joint(Faces(0.40, 0.25, 0.40, 0.25), 0.40 * 0.25 * 0.12, load_n=1e-3).spills
    calm = pad_joint(Faces(0.60, 0.25, 0.40, 0.25, offset_mm=0.1), 0.008)
    assert not calm.spills
    assert not calm.recedes
    assert held_joint(Faces(0.85, 0.28, 0.40, 0.24, offset_mm=-0.2), 0.85 * 0.28 * 0.02, 0.045).recedes


def test_a_held_ball_pushes_with_the_load_that_its_height_belongs_to():
    loads = np.array([-1e-4, 0.0, 1e-4])
    heights = ball_joint(V, 0.25, 0.25, load_n=loads).height_mm
    assert held_ball(V, 0.25, 0.25, heights) == pytest.approx(loads, abs=1e-9)


def test_a_held_ball_refuses_the_other_branch():
    # Pressed to 0.4 of its height the equations also hold for a contour that winds round the lands, whose force falls
    # as the joint is pressed: no number is better than that one.
    volume = zone_volume(0.463, 0.2175, 0.291)
    heights = 0.463 * np.array([0.4, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2])
    forces = held_ball(volume, 0.435, 0.582, heights)
    assert np.isnan(forces[0])
    assert (np.diff(forces[1:]) < 0).all()


@pytest.mark.parametrize(
    ("land", "terminal", "offset", "solder"),
    [((0.54, 0.26), (0.47, 0.23), 0.02, 0.0085), ((0.65, 0.21), (0.34, 0.20), 0.1, 0.0086)],
)
def test_a_pad_joint_s_error_estimate_bounds_its_error(land, terminal, offset, solder):
    # Against Richardson's extrapolation from meshes 1.6 times as fine, by the same energy.
    found = pad_joint(Faces(*land, *terminal, offset_mm=offset), solder)
    meshes = ((80, 15), (128, 24))
    gravity = 7.38e-6 * GRAVITY_M_S2 / 0.5e-3
    solved = _equilibria(Faces(*land, *terminal, offset), solder, meshes, gravity=gravity)
    coarse, fine = (float(unknown[-1]) for _, unknown, _ in solved)
    better = fine + (fine - coarse) / ((128 / 80) ** 2 - 1)
    assert abs(found.height_mm - better) <= found.height_error_mm


def test_a_ball_snaps_off_at_its_greatest_pull():
    off = snap_off(V, 0.25, 0.25)
    assert off.pull_n < GAMMA * math.pi * 0.25, "no more than the edge's surface tension (analytic bound)"
    around = held_ball(V, 0.25, 0.25, off.height_mm * np.array([0.98, 1.0, 1.02]))
    assert np.argmin(around) == 1
    with pytest.raises(ValidityError, match="no equilibrium"):
        ball_joint(V, 0.25, 0.25, load_n=-1.05 * off.pull_n)


@pytest.mark.parametrize("load", [0.0, 2e-4])
def test_extrapolated_heights_of_coarse_and_fine_meshes_agree(load):
    # Convergence: errors fall with the mesh, and Richardson's extrapolation from coarse meshes is within 0.1 µm of
    # that from finer ones.
    land, terminal, volume = (0.60, 0.25), (0.40, 0.24), 0.008
    meshes = ((32, 6), (48, 9), (64, 12), (96, 18))
    solved = _equilibria(Faces(*land, *terminal, 0.1), volume, meshes, load=load / GAMMA, gravity=0.145)
    heights = [float(unknown[-1]) for _, unknown, _ in solved]
    best = _extrapolated(heights[2], heights[3], meshes[2:])
    misses = [abs(height - best) for height in heights]
    assert misses[0] > misses[1] > misses[3]
    used = pad_joint(Faces(*land, *terminal, offset_mm=0.1), volume, load_n=load)
    assert used.height_mm == pytest.approx(best, abs=1e-4)


def test_a_held_pads_force_is_the_slope_of_its_energy():
    # Analytic identity, F = −dE/dh at fixed volume, on one mesh.
    def state(height):
        ((mesh, unknown, pressure),) = _equilibria(
            Faces(0.65, 0.25, 0.40, 0.24, -0.125), 0.009, ((32, 6),), gravity=0.145, held_mm=height
        )
        t = mesh.terms(unknown)
        return t.area + 0.145 * t.moment, float(pressure * t.d_volume[-1] - t.d_area[-1] - 0.145 * t.d_moment[-1])

    low, high = state(0.0499)[0], state(0.0501)[0]
    assert -(high - low) / 2e-4 == pytest.approx(state(0.05)[1], rel=1e-3)
