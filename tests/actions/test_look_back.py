"""Looking back: what counts as held, the plain ways beside it, and what is kept of it."""

import json
from datetime import datetime, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from jobs.actions import Refused
from jobs.actions.base import SYSTEM
from jobs.actions.look_back import Forecast, forecasts, judge, last_look, look_back
from jobs.management.commands.backtest import as_text
from jobs.models import Event, Job, Operation, TimeEntry
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
NOW = at(27, "08:00")


def finished_job(number: str, ordered: datetime, finished: datetime, minutes: int = 450) -> Job:
    """One panel that Mara beveled in one go."""
    job = cast.make_job(number, ordered_at=ordered, stage="complete", closed_at=finished)
    panel = cast.make_panel(job, kinds=("Beveling",))
    start = finished - timedelta(minutes=minutes)
    Operation.objects.filter(panel=panel).update(started_at=start, finished_at=finished, quantity_done=10)
    TimeEntry.objects.create(
        person=cast.person("Mara"),
        operation=panel.operations.get(),
        started_at=start,
        stopped_at=finished,
        minutes=minutes,
        pieces_done=10,
    )
    return job


def said(
    forecast_days: float, actual_days: float | None, job: int = 1, hours: float | None = None
) -> Forecast:
    """A forecast of one time at all levels, in days after the first of the month."""
    when = at(2) + timedelta(days=forecast_days)
    plain = None if hours is None else at(2) + timedelta(days=hours)
    finished = None if actual_days is None else at(2) + timedelta(days=actual_days)
    leads = None if plain is None else (plain, plain, plain)
    return Forecast(job, at(2), (when, when, when), plain, leads, finished)


def test_a_date_holds_if_the_job_was_finished_by_then() -> None:
    found = judge([said(5, 4, 1), said(5, 5, 2), said(5, 6, 3), said(5, None, 4)], NOW)
    (every, *_) = found["rows"]
    assert [held["share"] for held in every["held"]] == [0.5, 0.5, 0.5]
    assert (found["jobs"], found["forecasts"], found["enough"]) == (4, 4, False)
    # Wilson's interval of 2 in 4 at 95 %: 0.150 to 0.850 (Wilson 1927, worked by hand).
    assert every["held"][0]["low"] == pytest.approx(0.150, abs=0.001)
    assert every["held"][0]["high"] == pytest.approx(0.850, abs=0.001)


def test_forecasts_of_one_job_count_as_one_for_the_interval() -> None:
    every = judge([said(5, 4, job=1)] * 50, NOW)["rows"][0]
    assert (every["jobs"], every["forecasts"]) == (1, 50)
    assert every["held"][0]["low"] < 0.3


def test_horizons_are_by_what_was_said() -> None:
    found = judge([said(5, 30, 1), said(20, 3, 2), said(20, 3, 3), said(100, 3, 4)], NOW)
    assert [(row["words"], row["jobs"]) for row in found["rows"]] == [
        ("all together", 4),
        ("up to two weeks", 1),
        ("two to four weeks", 2),
        ("further", 1),
    ]


def test_the_loss_is_in_days_and_only_where_all_three_speak() -> None:
    every = judge([said(10, 12, 1, hours=16), said(10, 40, 2)], NOW)["rows"][0]
    assert every["compared"] == 1
    # Pinball loss of a date two days too early: the mean of .5, .8 and .95 times 2; four too late: of .5, .2, .05.
    assert every["plan"] == pytest.approx(2 * (0.5 + 0.8 + 0.95) / 3, abs=1e-4)
    assert every["hours"] == every["lead_times"] == pytest.approx(4 * (0.5 + 0.2 + 0.05) / 3, abs=1e-4)
    assert judge([said(10, 12)], NOW)["rows"][0]["plan"] is None


def test_each_week_is_planned_with_what_was_known_then() -> None:
    job = finished_job("0412", ordered=at(2), finished=at(11, "15:30"))
    found = forecasts(NOW, 4, futures=20, seed=1)
    # At eight in the morning of the 6th only; a week before it was not ordered, a week later it was finished.
    assert [(each.job, each.said_at.astimezone(cast.ZONE)) for each in found] == [(job.pk, at(6, "08:00"))]
    (forecast,) = found
    assert forecast.finished == at(11, "15:30")
    assert at(6, "09:00") < forecast.plan[0] <= forecast.plan[1] <= forecast.plan[2]
    assert (forecast.hours, forecast.lead_times) == (None, None)


def test_dates_whose_day_has_not_come_do_not_count() -> None:
    job = cast.make_job(ordered_at=at(2))
    for number in range(1, 30):
        cast.make_panel(job, number=number, kinds=("Beveling",))
    assert forecasts(NOW, 4, futures=20, seed=1) == []


def test_a_job_still_open_after_its_day_counts_as_missed() -> None:
    job = cast.make_job(ordered_at=at(2))
    cast.make_panel(job, kinds=("Beveling",))
    found = forecasts(NOW, 4, futures=20, seed=1)
    assert {each.finished for each in found} == {None}
    assert judge(found, NOW)["rows"][0]["held"][2]["share"] == 0


def test_a_cancelled_job_does_not_count() -> None:
    cast.make_panel(cast.make_job(ordered_at=at(2), stage="cancelled", closed_at=at(24)), kinds=("Beveling",))
    assert forecasts(NOW, 4, futures=20, seed=1) == []


def test_the_plain_ways_need_a_history_and_then_speak() -> None:
    for number in range(10):
        day = datetime(2026, 2, 3 + number, 16, tzinfo=cast.ZONE)
        finished_job(f"03{number:02}", ordered=day - timedelta(days=4), finished=day)
    finished_job("0412", ordered=at(4), finished=at(11, "15:30"))
    forecast = next(each for each in forecasts(NOW, 4, futures=20, seed=1) if each.said_at > at(4))
    assert forecast.lead_times == (at(8), at(8), at(8))
    # 75 hours in eight weeks are 9.4 a week; 7.5 hours left take 0.8 weeks.
    assert forecast.hours == pytest.approx(at(6, "08:00") + timedelta(weeks=0.8), abs=timedelta(minutes=1))


def test_it_is_kept_and_the_last_one_shown() -> None:
    finished_job("0412", ordered=at(2), finished=at(11, "15:30"))
    assert last_look() is None
    found = look_back(by=SYSTEM, at=NOW, weeks=4, futures=20)
    look = last_look()
    assert look is not None
    assert look.after == json.loads(json.dumps(found))
    assert (found["weeks"], found["jobs"]) == (4, 1)


@pytest.mark.parametrize("weeks", [0, -1, 521])
def test_how_far_back_is_bounded(weeks: int) -> None:
    with pytest.raises(Refused, match="Look back over"):
        look_back(by=SYSTEM, at=NOW, weeks=weeks)
    assert not Event.objects.exists()


def test_the_command_says_when_there_is_too_little() -> None:
    out = StringIO()
    call_command("backtest", "--weeks", "2", stdout=out)
    assert "too little to judge by" in out.getvalue()
    out = StringIO()
    call_command("backtest", "--weeks", "2", "--json", stdout=out)
    assert json.loads(out.getvalue())["forecasts"] == 0


def test_the_command_prints_a_line_a_horizon() -> None:
    found = judge([said(5, 4, number, hours=6) for number in range(30)], NOW) | {"weeks": 9}
    lines = as_text(found).splitlines()
    assert lines[0] == "30 forecasts of 30 jobs in 9 weeks."
    assert lines[2].startswith("all together")
    assert "100 % (89-100)" in lines[2]


@pytest.mark.parametrize("args", [("--weeks", "0"), ("--futures", "0")])
def test_the_command_refuses_what_it_cannot_do(args: tuple[str, str]) -> None:
    with pytest.raises(CommandError):
        call_command("backtest", *args)
