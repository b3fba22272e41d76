"""What the pages say in words about the jobs of the valley, where mechanics fixes it.

No test here holds a pick. "By hand" means from the records and the formulas of docs/physics.md.
"""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

import gearrec

if TYPE_CHECKING:
    from collections.abc import Sequence

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
JOBS = sorted(EXAMPLES.glob("*.yaml"))
MPH = 0.44704


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


def rising(advice: gearrec.Advice) -> list[Any]:
    return sorted(advice.candidates, key=lambda one: one.axle_ratio)


def on_leg(advice: gearrec.Advice, metric: str, leg: str) -> list[float]:
    at = advice.legs.index(leg)
    return [one.leg_metrics[metric][at] for one in rising(advice)]


def of_job(advice: gearrec.Advice, metric: str) -> list[float]:
    return [one.metrics[metric] for one in rising(advice)]


def never_falls(values: Sequence[float], slack: float = 0.0) -> bool:
    return all(after >= before - slack for before, after in itertools.pairwise(values))


# --- every job ------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.stem)
def test_gearing_goes_in_proportion_to_the_ratio(advisor: gearrec.Advisor, path: Path) -> None:
    advice = advisor.advise(path)
    first, *others = rising(advice)
    assert others
    for one in others:
        step = one.axle_ratio / first.axle_ratio
        for metric in ("gearing_change", "effective_ratio"):
            shift = 1.0 if metric == "gearing_change" else 0.0
            found = (shift + one.metrics[metric]) / (shift + first.metrics[metric])
            assert found == pytest.approx(step)


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.stem)
def test_a_deeper_ratio_holds_no_less_in_top_gear(advisor: gearrec.Advisor, path: Path) -> None:
    """Below its speed of greatest power an engine has more power the faster it turns."""
    advice = advisor.advise(path)
    speeds = [one.leg_metrics["cruise_engine_speed"] for one in rising(advice)]
    fastest = max(range(len(advice.legs)), key=lambda at: speeds[0][at])
    held = [one.leg_metrics["top_gear_grade"][fastest] for one in rising(advice)]
    assert held[-1] > held[0]
    # The torque tables are joined by straight lines, hence the slack.
    assert never_falls(held, slack=1e-3)


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.stem)
def test_each_report_says_that_its_truck_does_not_exist(
    advisor: gearrec.Advisor, path: Path
) -> None:
    text = advisor.advise(path).text()
    assert "INVENTED DATA" in text
    assert "(invented)" in text


# --- the van that hunts ---------------------------------------------------------------------------


def test_the_tallest_gears_save_the_van_next_to_nothing(advisor: gearrec.Advisor) -> None:
    """At one gear 10 % less engine speed saves 1 to 4 % (elasticity 0.1 to 0.4, US EPA test-car
    pairs, see tests/reference/test_fuel_elasticity.py); here the lower gears eat that up."""
    advice = advisor.advise(EXAMPLES / "bread-van.yaml")
    fuel = of_job(advice, "fuel_rate_mix")
    fitted = rising(advice).index(advice.fitted)
    assert fitted == 1
    assert abs(fuel[0] / fuel[fitted] - 1.0) < 0.01
    assert abs(fuel[fitted + 1] / fuel[fitted] - 1.0) < 0.01


def test_and_make_it_shift_more(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise(EXAMPLES / "bread-van.yaml")
    for leg in ("lanes", "lanes with stall", "valley road with stall"):
        for metric in ("shift_rate", "downshift_share"):
            assert never_falls([-value for value in on_leg(advice, metric, leg)])
    tallest, fitted, next_one, *_ = on_leg(advice, "shift_rate", "lanes")
    assert tallest > 1.2 * fitted
    # "A quarter of the gear changes", as the README says, to a third of its own size.
    assert 0.17 < 1.0 - next_one / fitted < 0.33


def test_its_engine_speed_by_hand(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise(EXAMPLES / "bread-van.yaml")
    # 205/75R16 = 406.4 + 2 x 205 x 0.75 = 713.9 mm; a radial rolls 3.05 D (ETRTO, as quoted).
    turns = 56.0 * MPH / (3.05 * 0.7139) * 60.0
    found = on_leg(advice, "cruise_engine_speed", "valley road")
    assert found[1] == pytest.approx(turns * 0.68 * 53 / 15, rel=1e-3)


# --- horses, post, timber, wood -------------------------------------------------------------------


def test_the_tires_of_the_vet_take_what_the_page_says(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise(EXAMPLES / "horse-trailer.yaml")
    growth = (406.4 + 2 * 215 * 0.85) / (406.4 + 2 * 235 * 0.70)
    for one in rising(advice):
        assert one.metrics["effective_ratio"] == pytest.approx(one.axle_ratio / growth, rel=1e-3)
    check = advice.story.engine_speed
    assert check is not None
    # 55 mph over 3.05 x 0.7354 m a turn, x 0.68 x 47/14.
    turns = 55.0 * MPH / (3.05 * 0.7354) * 60.0
    assert check.expected_rpm == pytest.approx(turns * 0.68 * 47 / 14, rel=1e-3)
    assert check.agrees


def test_the_post_gains_nothing_in_a_whole_start(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise(EXAMPLES / "post-round.yaml")
    times = of_job(advice, "time_0_60mph")
    assert max(times) / min(times) < 1.03
    # 47/10 over 50/13 is 1.222: so much faster turns the engine on the plain.
    turning = on_leg(advice, "cruise_engine_speed", "plain")
    assert turning[-1] / turning[1] == pytest.approx(1.222)


def test_no_gear_set_starts_the_timber_on_a_steeper_grade(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise(EXAMPLES / "timber.yaml")
    starts = of_job(advice, "launch_grade")
    assert max(starts) == pytest.approx(min(starts))
    # Rear axle in pounds: 47 % of 8,450, 85 % of 500, half of the driver's 200, and 14 % of 13,200
    # on the tongue x (1 + 55/170); friction 0.85 on highway tread, rolling 0.009; whole 22,350.
    rear = 0.47 * 8450 + 0.85 * 500 + 100 + 0.14 * 13200 * (1 + 55 / 170)
    # Grip and rolling go with the cosine of the slope: its tangent is their difference.
    grade = 0.85 * rear / (8450 + 500 + 200 + 13200) - 0.009
    assert starts[0] == pytest.approx(grade, abs=0.002)
    climbs = [speed / MPH for speed in of_job(advice, "climb_speed")]
    assert max(climbs) - min(climbs) < 5.0
    assert climbs.index(max(climbs)) != len(climbs) - 1


def test_the_forester_pays_for_each_crawl_in_engine_speed(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise(EXAMPLES / "forester.yaml")
    crawl = of_job(advice, "crawl_ratio")
    assert crawl[-1] == pytest.approx(4.61 * 3.14 * 47 / 9)
    turning = on_leg(advice, "cruise_engine_speed", "valley road")
    assert turning[-1] / turning[0] == pytest.approx(crawl[-1] / crawl[0])
