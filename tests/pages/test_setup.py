"""The set-up pages: studio, stations, people, closed days, accounts."""

from datetime import date, time
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from jobs.forms.setup import read_spans, write_spans
from jobs.models import Account, ClosedDay, DayOff, ExtraHours, Person, Role, Shift, Station, Studio
from jobs.views.week import week_picture
from tests import cast


def get(client: Client, page: str, *args: Any) -> str:
    answer = client.get(reverse(page, args=args))
    assert answer.status_code == 200
    return answer.content.decode()


def post(client: Client, page: str, /, *args: Any, **typed: Any) -> Any:
    return client.post(reverse(page, args=args), typed)


def refused(answer: Any, sentence: str) -> str:
    text = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in text
    return text


# What is typed as hours


@pytest.mark.parametrize(
    ("text", "spans"),
    [
        ("8:00-12:00, 12:30-16:30", [(time(8), time(12)), (time(12, 30), time(16, 30))]),
        ("8-12; 13-17.30", [(time(8), time(12)), (time(13), time(17, 30))]),
        (" 08:15 – 12 ", [(time(8, 15), time(12))]),
        ("7 to 15", [(time(7), time(15))]),
        ("", []),
        ("   ", []),
    ],
)
def test_hours_of_a_day_are_read(text: str, spans: list[tuple[time, time]]) -> None:
    assert read_spans(text) == spans
    assert read_spans(write_spans(spans)) == spans


@pytest.mark.parametrize(
    "text", ["8", "8-", "8-12-16", "eight to twelve", "25-26", "8:60-9", "8-12,", "8-12 13-17"]
)
def test_hours_that_make_no_sense_are_said_so(text: str) -> None:
    with pytest.raises(ValidationError):
        read_spans(text)


# The overview


def test_the_overview_counts_and_says_what_is_missing(lead_client: Client) -> None:
    Person.objects.create(name="Otto Prax")
    text = get(lead_client, "set-up")
    assert "Otto Prax</a> has no weekly hours." in text
    assert "Otto Prax</a> has no skill yet." in text
    assert "Nobody works at" in text
    assert "Blasting</a>." in text
    assert "<strong>4</strong> work here" in text


def test_the_overview_of_a_whole_studio_complains_of_nothing(lead_client: Client) -> None:
    Station.objects.filter(name="Blasting").update(active=False)
    assert "until this is mended" not in get(lead_client, "set-up")


# The studio

STUDIO = {
    "name": "North Light",
    "address": "",
    "time_zone": "America/Chicago",
    "units": "in",
    "hours": "clock",
    "currency": "usd",
    "labor_rate": "95",
    "country": "US",
    "region": "IL",
    "confidence": "0.85",
    "rounding": "15",
    "paper": "a4",
    "labels": "own",
    "label_columns": "2",
    "label_rows": "7",
    "label_width_mm": "96",
    "label_height_mm": "38",
    "label_left_mm": "8",
    "label_top_mm": "15",
    "label_across_mm": "2.5",
    "label_down_mm": "0",
}


def test_the_studio_is_changed(lead_client: Client) -> None:
    assert 'value="Lakeside Glass Works"' in get(lead_client, "set-up-studio")
    assert post(lead_client, "set-up-studio", **STUDIO).status_code == 302
    studio = Studio.current()
    assert (studio.name, studio.currency, studio.region) == ("North Light", "USD", "IL")
    assert studio.confidence == Decimal("0.85")
    assert studio.rounding == 15


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"time_zone": "Mars"}, "is not a time zone; one is"),
        ({"region": "XX"}, "is not a region of United States. Known are: AK,"),
        ({"country": "ZZ"}, "Select a valid choice"),
        ({"confidence": "1.5"}, "50 to 99"),
        ({"label_columns": "0"}, "1 to 10 labels across"),
        ({"label_rows": "31"}, "1 to 30 labels down"),
        ({"label_width_mm": "5"}, "at least 20 mm wide"),
        ({"label_height_mm": "5"}, "at least 15 mm high"),
        ({"label_left_mm": "-3"}, "A margin or a gap is not below zero"),
        ({"name": ""}, "This field is required"),
    ],
)
def test_a_studio_that_cannot_be_keeps_what_was_typed(
    lead_client: Client, typed: dict[str, str], sentence: str
) -> None:
    text = refused(post(lead_client, "set-up-studio", **STUDIO | typed), sentence)
    assert 'value="95"' in text
    # The head of the page still names the studio as it is.
    assert "<span>Lakeside Glass Works</span>" in text
    assert Studio.current().name == "Lakeside Glass Works"


# Stations


def test_stations_are_listed_with_who_works_there(lead_client: Client) -> None:
    text = get(lead_client, "set-up-stations")
    assert text.index("Cutting") < text.index("Beveling") < text.index("Assembly")
    assert "Mara Lind" in text
    assert "Nobody works here." in text


def test_a_station_is_added_and_changed(lead_client: Client) -> None:
    assert post(lead_client, "set-up-stations", name="Stencil", benches="2").status_code == 302
    station = Station.objects.get(name="Stencil")
    typed = {"name": "Stencil", "place": "9", "benches": "3"}
    assert post(lead_client, "set-up-station", station.pk, **typed).status_code == 302
    station.refresh_from_db()
    assert (station.place, station.benches, station.active) == (9, 3, False)


def test_a_refused_station_keeps_its_row_as_typed(lead_client: Client) -> None:
    cutting = Station.objects.get(name="Cutting")
    typed = {"name": "Beveling", "place": "0", "benches": "7", "active": "on"}
    text = refused(
        post(lead_client, "set-up-station", cutting.pk, **typed), "There is a station Beveling already."
    )
    assert 'value="7"' in text
    refused(post(lead_client, "set-up-stations", name="cutting", benches="1"), "a station cutting already")
    refused(post(lead_client, "set-up-stations", name="New", benches="many"), "Enter a whole number")


def test_a_station_that_is_not_there(lead_client: Client) -> None:
    assert post(lead_client, "set-up-station", 9999, name="x").status_code == 404


# People


def test_people_are_listed_with_their_week(lead_client: Client) -> None:
    mara = cast.person("Mara")
    DayOff.objects.create(person=mara, first=date(2099, 3, 9), last=date(2099, 3, 9), reason="fair")
    text = get(lead_client, "set-up-people")
    assert 'aria-label="Monday to Friday 8:00-12:00, 12:30-16:30"' in text
    assert "<strong>40:00</strong> a week" in text
    assert "fair" in text
    assert "at 0.8</span>" in text


def test_the_picture_of_a_week_has_a_bar_for_each_span() -> None:
    shifts = [Shift(weekday=0, start=time(5), stop=time(12)), Shift(weekday=0, start=time(13), stop=time(20))]
    week = week_picture(shifts)
    assert [len(column["bars"]) for column in week["columns"]] == [2, 0, 0, 0, 0, 0, 0]
    first, second = week["columns"][0]["bars"]
    assert (first["y"], round(second["y"] + second["height"])) == (0, week["height"])
    assert week["minutes"] == 14 * 60
    assert week_picture([])["words"] == "no weekly hours"


def test_lines_of_a_week_join_neighbors_alone() -> None:
    shifts = [Shift(weekday=day, start=time(8), stop=time(12)) for day in (0, 1, 3)]
    assert [line["days"] for line in week_picture(shifts)["lines"]] == ["Monday to Tuesday", "Thursday"]


def test_somebody_new_is_added(lead_client: Client) -> None:
    answer = post(lead_client, "set-up-people", name="Otto Prax")
    assert answer["Location"] == reverse("set-up-person", args=[Person.objects.get(name="Otto Prax").pk])
    text = refused(post(lead_client, "set-up-people", name="Otto Prax"), "somebody called Otto Prax already")
    assert 'value="Otto Prax"' in text


def test_a_person_is_changed(lead_client: Client) -> None:
    mara = cast.person("Mara")
    assert 'value="30.00"' in get(lead_client, "set-up-person", mara.pk)
    typed = {"name": "Mara Lindt", "hourly_cost": "33", "active": "on"}
    assert post(lead_client, "set-up-person", mara.pk, **typed).status_code == 302
    mara.refresh_from_db()
    assert (mara.name, mara.hourly_cost, mara.active) == ("Mara Lindt", 33, True)
    typed["name"] = "Ilse Roth"
    refused(post(lead_client, "set-up-person", mara.pk, **typed), "somebody called Ilse Roth already")


def test_a_pin_is_set_and_cleared_and_never_shown(lead_client: Client) -> None:
    mara = cast.person("Mara")
    assert post(lead_client, "set-up-person-pin", mara.pk, pin="0417").status_code == 302
    text = get(lead_client, "set-up-person", mara.pk)
    assert "A PIN is set." in text
    assert "0417" not in text
    assert cast.person("Mara").pin not in text
    refused(post(lead_client, "set-up-person-pin", mara.pk, pin="12"), "4 to 8 digits")
    post(lead_client, "set-up-person-pin", mara.pk, pin="")
    assert cast.person("Mara").pin == ""


def test_skills_are_changed_and_none_at_a_station_out_of_use_forgotten(lead_client: Client) -> None:
    mara = cast.person("Mara")
    beveling, blasting = Station.objects.get(name="Beveling"), Station.objects.get(name="Blasting")
    Station.objects.filter(pk=beveling.pk).update(active=False)
    assert f'name="pace_{beveling.pk}"' in get(lead_client, "set-up-person", mara.pk)
    typed = {f"pace_{beveling.pk}": "1.1", f"pace_{blasting.pk}": "0.9"}
    assert post(lead_client, "set-up-person-skills", mara.pk, **typed).status_code == 302
    assert {(skill.station.name, str(skill.pace)) for skill in mara.skills.all()} == {
        ("Beveling", "1.10"),
        ("Blasting", "0.90"),
    }
    text = refused(
        post(lead_client, "set-up-person-skills", mara.pk, **{f"pace_{blasting.pk}": "20"}),
        "between 0.1 and 10",
    )
    assert 'value="20"' in text


def test_a_week_is_typed(lead_client: Client) -> None:
    mara = cast.person("Mara")
    typed = {"day_0": "7:00-12:00, 12:30-15:30", "day_1": "same", "day_4": "7-12", "day_5": "Same as Monday"}
    assert post(lead_client, "set-up-person-week", mara.pk, **typed).status_code == 302
    words = week_picture(mara.shifts.all())["words"]
    assert words == (
        "Monday to Tuesday 7:00-12:00, 12:30-15:30; Friday 7:00-12:00; Saturday 7:00-12:00, 12:30-15:30"
    )


def test_a_week_is_the_same_from_monday_to_friday_by_a_tick(lead_client: Client) -> None:
    mara = cast.person("Mara")
    typed = {"day_0": "8-16", "day_2": "9-10", "day_6": "10-11", "like_monday": "on"}
    post(lead_client, "set-up-person-week", mara.pk, **typed)
    words = week_picture(mara.shifts.all())["words"]
    assert words == "Monday to Friday 8:00-16:00; Sunday 10:00-11:00"


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        ("8-12, 11-13", "08:00-12:00 and 11:00-13:00 overlap"),
        ("12-8", "stops before it starts"),
        ("8 o'clock", "is not understood"),
    ],
)
def test_a_week_that_cannot_be_keeps_what_was_typed(lead_client: Client, day: str, sentence: str) -> None:
    mara = cast.person("Mara")
    text = refused(post(lead_client, "set-up-person-week", mara.pk, day_0="6:00-7:00", day_2=day), sentence)
    assert 'value="6:00-7:00"' in text
    assert mara.shifts.count() == 10


def test_days_off_come_and_go(lead_client: Client) -> None:
    mara = cast.person("Mara")
    typed = {"first": "2099-03-09", "last": "2099-03-13", "reason": "holiday"}
    assert post(lead_client, "set-up-day-off", mara.pk, **typed).status_code == 302
    assert "Mon 9 Mar 2099 to Fri 13 Mar 2099" in get(lead_client, "set-up-person", mara.pk)
    refused(post(lead_client, "set-up-day-off", mara.pk, **typed), "is off from 9 March 2099")
    refused(post(lead_client, "set-up-day-off", mara.pk, first="soon"), "Enter a valid date")
    off = mara.days_off.get()
    assert post(lead_client, "set-up-day-off-remove", mara.pk, off.pk).status_code == 302
    assert not mara.days_off.exists()
    assert post(lead_client, "set-up-day-off-remove", mara.pk, off.pk).status_code == 404


def test_days_off_of_somebody_else_are_not_found(lead_client: Client) -> None:
    off = DayOff.objects.create(person=cast.person("Ilse"), first=date(2099, 3, 9), last=date(2099, 3, 9))
    assert post(lead_client, "set-up-day-off-remove", cast.person("Mara").pk, off.pk).status_code == 404


def test_extra_hours_come_and_go(lead_client: Client) -> None:
    mara = cast.person("Mara")
    typed = {"day": "2099-03-14", "start": "08:00", "stop": "12:00"}
    assert post(lead_client, "set-up-extra-hours", mara.pk, **typed).status_code == 302
    assert "Sat 14 Mar 2099, 8:00 to 12:00" in get(lead_client, "set-up-person", mara.pk)
    refused(post(lead_client, "set-up-extra-hours", mara.pk, **typed), "overlap")
    extra = ExtraHours.objects.get()
    assert post(lead_client, "set-up-extra-hours-remove", mara.pk, extra.pk).status_code == 302
    assert not ExtraHours.objects.exists()


# Closed days


def test_a_day_is_closed_and_opened(lead_client: Client) -> None:
    assert post(lead_client, "set-up-closed-days", day="2099-05-01", name="May Day").status_code == 302
    text = get(lead_client, "set-up-closed-days")
    assert "Fri 1 May, May Day" in text
    assert "2099</h2>" in text
    refused(post(lead_client, "set-up-closed-days", day="2099-05-01"), "closed on 1 May 2099 already")
    closed = ClosedDay.objects.get()
    assert post(lead_client, "set-up-closed-day-remove", closed.pk).status_code == 302
    assert not ClosedDay.objects.exists()
    assert post(lead_client, "set-up-closed-day-remove", closed.pk).status_code == 404


def test_public_holidays_are_looked_at_and_chosen(lead_client: Client) -> None:
    Studio.objects.update(country="AT")
    ClosedDay.objects.create(day=date(2026, 5, 1), name="May Day")
    assert "2026" in get(lead_client, "set-up-closed-days")
    text = get(lead_client, "set-up-holidays", 2026)
    assert 'value="2026-05-14" checked' in text
    assert 'value="2026-05-01"' not in text
    typed = {"days": ["2026-05-14", "2026-04-06"]}
    assert post(lead_client, "set-up-holidays", 2026, **typed).status_code == 302
    assert [str(row) for row in ClosedDay.objects.all()] == [
        "2026-04-06 Ostermontag",
        "2026-05-01 May Day",
        "2026-05-14 Christi Himmelfahrt",
    ]


def test_holidays_that_are_none_are_refused(lead_client: Client) -> None:
    Studio.objects.update(country="AT")
    refused(post(lead_client, "set-up-holidays", 2026), "No day was chosen.")
    refused(post(lead_client, "set-up-holidays", 2026, days=["2026-03-03"]), "Select a valid choice")
    assert not ClosedDay.objects.exists()


def test_holidays_without_a_country_lead_back_with_the_reason(lead_client: Client) -> None:
    answer = lead_client.get(reverse("set-up-holidays", args=[2026]), follow=True)
    assert "Say in the studio’s settings" in answer.content.decode().replace("&#x27;", "’")
    assert answer.redirect_chain == [(reverse("set-up-closed-days"), 302)]


# Accounts


def test_accounts_are_made_and_changed(lead_client: Client) -> None:
    cutting = Station.objects.get(name="Cutting")
    typed = {"username": "cut-tablet", "role": "bench", "station": cutting.pk, "password": "cobalt and amber"}
    assert post(lead_client, "set-up-accounts", **typed).status_code == 302
    account = Account.objects.get(username="cut-tablet")
    assert (account.role, account.station) == (Role.BENCH, cutting)
    assert "cut-tablet" in get(lead_client, "set-up-accounts")
    assert 'value="cut-tablet"' in get(lead_client, "set-up-account", account.pk)
    typed = {"username": "desk", "role": "office", "first_name": "Emil"}
    assert post(lead_client, "set-up-account", account.pk, **typed).status_code == 302
    account.refresh_from_db()
    assert (account.username, account.role, account.station) == ("desk", Role.OFFICE, None)


def test_a_bad_account_keeps_what_was_typed(lead_client: Client, office: Account) -> None:
    typed = {"username": "new", "role": "bench", "password": "short"}
    text = refused(post(lead_client, "set-up-accounts", **typed), "at least 12 characters")
    assert 'value="new"' in text
    typed = {"username": "OFFICE", "role": "bench", "password": "cobalt and amber"}
    refused(post(lead_client, "set-up-accounts", **typed), "an account “OFFICE” already")
    refused(post(lead_client, "set-up-accounts", **typed | {"username": "a b"}), "Enter a valid username")
    refused(post(lead_client, "set-up-accounts", **typed | {"role": "king"}), "Select a valid choice")


def test_a_new_password_signs_the_holder_out_but_not_the_lead_of_themselves(
    lead_client: Client, lead: Account, office_client: Client, office: Account
) -> None:
    typed = {"password": "cobalt and amber"}
    assert post(lead_client, "set-up-account-password", office.pk, **typed).status_code == 302
    assert office_client.get(reverse("password")).status_code == 302
    assert post(lead_client, "set-up-account-password", lead.pk, **typed).status_code == 302
    assert lead_client.get(reverse("set-up")).status_code == 200
    refused(post(lead_client, "set-up-account-password", office.pk, password="short"), "at least 12")


def test_an_account_ends_at_once_and_opens_again(
    lead_client: Client, office_client: Client, office: Account
) -> None:
    assert post(lead_client, "set-up-account-end", office.pk).status_code == 302
    assert office_client.get(reverse("password")).status_code == 302
    refused(post(lead_client, "set-up-account-end", office.pk), "has ended already")
    assert post(lead_client, "set-up-account-end", office.pk, again="yes").status_code == 302
    office.refresh_from_db()
    assert office.is_active


def test_the_last_lead_stays(lead_client: Client, lead: Account) -> None:
    refused(post(lead_client, "set-up-account-end", lead.pk), "last account of a lead")
    typed = {"username": "lead", "role": "office"}
    refused(post(lead_client, "set-up-account", lead.pk, **typed), "last account of a lead")
    lead.refresh_from_db()
    assert (lead.is_active, lead.role) == (True, Role.LEAD)
