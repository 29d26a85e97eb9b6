"""What control costs: plans, what they find, and what becomes of the rest, worked by hand."""

from __future__ import annotations

import pytest

from landwise.access.plans import Plan, Share, control_steps, found_by, plans_of
from landwise.costs.control import Controlled, control_loads, plan_loads
from landwise.costs.loads import Line, money
from landwise.costs.rates import default_rates
from landwise.errors import InputError, UnknownNameError

OPTICAL = Plan(("optical", "functional"))


def test_what_a_plan_finds_adds_up_with_what_escapes():
    for plan in plans_of(("optical", "side view", "x-ray", "paste"), "functional"):
        for sight in ("from above", "from the side", "not at all"):
            for kind in ("bridge", "open", "other"):
                found = found_by(plan, sight, kind)
                assert found.in_print + found.inspected + found.tested + found.escaped == pytest.approx(1.0)


def test_steps_miss_one_after_the_other():
    # Optical finds 0.85 of opens seen from above, the test 0.80 of the rest: 0.03 escape.
    found = found_by(OPTICAL, "from above", "open")
    assert (found.inspected, found.tested, found.escaped) == pytest.approx((0.85, 0.12, 0.03))
    # A hidden open is left to the test.
    assert found_by(OPTICAL, "not at all", "open").escaped == pytest.approx(0.20)
    everything = Plan(("optical", "functional", "x-ray"), 1.0)
    assert found_by(everything, "not at all", "open").escaped == pytest.approx(0.1 * 0.2)


def test_more_control_never_lets_more_escape():
    plans = plans_of(("optical", "side view", "x-ray", "paste"), "functional")
    for sight in ("from above", "from the side", "not at all"):
        for plan in plans:
            for other in plans:
                if set(plan.steps) <= set(other.steps) and plan.xray_share <= other.xray_share:
                    one, more = (found_by(p, sight, "open").escaped for p in (plan, other))
                    assert more <= one + 1e-12


def test_the_published_counts_of_pillow_defects_stand_behind_the_range():
    # SMT Magazine May 2014, p. 20-26 (verified in the reference notes): 38 and 43 of 45 pillow defects found.
    share = control_steps()["x-ray"].share("not at all", "open")
    assert pytest.approx(0.844, abs=1e-3) == 38 / 45
    assert pytest.approx(0.956, abs=1e-3) == 43 / 45
    assert 38 / 45 < share.value < 43 / 45
    assert share.low <= 0.71  # the lower end of the 95 % interval of the poorer machine
    assert share.high >= 0.99


def test_defects_are_paid_by_where_they_end():
    part = Controlled({"from above": 14}, {("from above", "open"): 0.001})
    found = {load.line: load.money(default_rates(), 1000) for load in control_loads(part, OPTICAL)}
    assert found[Line.OPTICAL] == pytest.approx(14 * 0.002)
    assert found[Line.REWORK] == pytest.approx(0.001 * 0.97 * 5)
    assert found[Line.LATE] == pytest.approx(0.001 * 0.12 * 10)
    assert found[Line.ESCAPES] == pytest.approx(0.001 * 0.03 * 60)
    assert found[Line.SCRAP] == pytest.approx(0.001 * 0.97 * 0.03 * 20)


def test_hidden_joints_are_dearer_to_lose_and_x_ray_earns_its_money_only_in_numbers():
    def cost(plan, defects):
        part = Controlled({"not at all": 20}, {("not at all", "open"): defects})
        return money((*control_loads(part, plan), *plan_loads(plan)), default_rates(), 10_000)

    none, _, every = plans_of(("optical", "x-ray"), "functional")
    assert cost(none, 1e-4) < cost(every, 1e-4)
    assert cost(none, 0.5) > cost(every, 0.5)


def test_x_ray_that_others_pay_for_costs_nothing_more():
    sample = plans_of(("optical", "x-ray"), "none")[1]
    assert sample.sampled
    assert money(plan_loads(sample), default_rates(), 1000) == pytest.approx(3 * (0.01 + 5 * 0.99 / 1000) + 40 / 1000)
    assert plan_loads(sample, xray_paid=0.01) == ()


def test_plans_that_cannot_be_are_refused():
    with pytest.raises(UnknownNameError):
        plans_of(("optical",), "smell")
    with pytest.raises(InputError):
        Plan(("optical", "x-ray"), 0.0)
    with pytest.raises(InputError):
        Plan(("optical",), 0.5)
    with pytest.raises(UnknownNameError):
        Plan(("smell",))
    with pytest.raises(InputError):
        Share(0.5, 0.4, 0.6)
