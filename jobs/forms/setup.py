"""What is typed on the set-up pages. Rules of the studio are the actions'; here is only the shape."""

import re
import zoneinfo
from collections.abc import Iterable, Sequence
from datetime import date, time
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.models import Account, Person, Role, Shift, Station, Studio

Span = tuple[time, time]
SAME = "same"
_CLOCK = r"(\d{1,2})(?:[:.](\d{2}))?"
_SPAN = re.compile(rf"\s*{_CLOCK}\s*(?:-|–|to)\s*{_CLOCK}\s*")


def _clock(hour: str, minute: str | None) -> time:
    try:
        return time(int(hour), int(minute or 0))
    except ValueError as error:
        raise ValidationError(f"“{hour}:{minute or '00'}” is no time of the day.") from error


def read_spans(text: str) -> list[Span]:
    """“8:00-12:00, 12:30-16:30” as spans from and to; nothing typed is a free day."""
    spans = []
    for part in re.split(r"[,;]", text) if text.strip() else []:
        found = _SPAN.fullmatch(part)
        if not found:
            raise ValidationError(f"“{part.strip()}” is not understood; type 8:00-12:00, 12:30-16:30.")
        spans.append((_clock(found[1], found[2]), _clock(found[3], found[4])))
    return spans


def write_spans(spans: Iterable[Span]) -> str:
    return ", ".join(f"{_written(start)}-{_written(stop)}" for start, stop in spans)


def _written(clock: time) -> str:
    return f"{clock.hour}:{clock.minute:02}"


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self, **attrs: Any) -> None:
        super().__init__(attrs=attrs, format="%Y-%m-%d")


class ClockInput(forms.TimeInput):
    input_type = "time"

    def __init__(self) -> None:
        super().__init__(format="%H:%M")


class StudioForm(forms.ModelForm):  # type: ignore[type-arg]  # Not subscriptable at run time.
    class Meta:
        model = Studio
        fields = [
            "name",
            "address",
            "time_zone",
            "units",
            "hours",
            "currency",
            "labor_rate",
            "country",
            "region",
            "confidence",
            "rounding",
            "asks_pin",
            "leads_need_code",
            "paper",
            "labels",
            "label_columns",
            "label_rows",
            "label_width_mm",
            "label_height_mm",
            "label_left_mm",
            "label_top_mm",
            "label_across_mm",
            "label_down_mm",
        ]
        widgets = {
            "country": forms.Select,
            "address": forms.Textarea(attrs={"rows": 3}),
            "time_zone": forms.TextInput(attrs={"list": "time-zones", "autocomplete": "off"}),
        }
        labels = {
            "units": "Lengths are shown in",
            "currency": "Currency (ISO 4217)",
            "labor_rate": "Price of an hour",
            "country": "Public holidays of",
            "region": "State or province",
            "confidence": "Confidence of a promise",
            "rounding": "The weekly hours sheet is rounded",
        }
        help_texts = {
            "confidence": "The share of promises meant to hold, 0.5 to 0.99. The day proposed to a customer follows.",
            "region": "Only where the country has regions with holidays of their own.",
            "address": "As it stands on papers.",
            "rounding": "Each day to the nearest. Only the sheet is rounded; estimates and dates go by the minute.",
            "asks_pin": "Otherwise a tap on the name is enough.",
            "leads_need_code": "Beside the password, what an app on the phone shows: the lead switches it on first.",
        }

    def __init__(self, *args: Any, countries: dict[str, str], regions: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [("", "not said")] + [(code, f"{name} ({code})") for code, name in countries.items()]
        self.fields["country"] = forms.ChoiceField(
            choices=choices, required=False, label=self.fields["country"].label
        )
        if regions:
            self.fields["region"].help_text = f"One of {', '.join(regions)}, or empty."
        self.time_zones = sorted(zoneinfo.available_timezones())

    def clean_currency(self) -> str:
        return str(self.cleaned_data["currency"]).upper()

    def _post_clean(self) -> None:
        """Nothing: the rules are the action's, and the row in use must not change before it has agreed."""


class StationForm(forms.Form):
    name = forms.CharField(max_length=40)
    place = forms.IntegerField(label="Order")
    benches = forms.IntegerField()
    active = forms.BooleanField(required=False, label="In use")


class NewStationForm(forms.Form):
    name = forms.CharField(max_length=40, label="New station")
    benches = forms.IntegerField(initial=1)


class NewPersonForm(forms.Form):
    name = forms.CharField(max_length=60, label="New person")


class PersonForm(forms.Form):
    name = forms.CharField(max_length=60)
    hourly_cost = forms.DecimalField(max_digits=7, decimal_places=2, label="What an hour costs the studio")
    active = forms.BooleanField(required=False, label="Works here")


class PinForm(forms.Form):
    pin = forms.CharField(
        label="PIN",
        required=False,
        max_length=20,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        help_text="4 to 8 digits. Left empty, none is asked of this person.",
    )


class SkillsForm(forms.Form):
    """A pace for each station, empty where the person does not work there."""

    def __init__(self, *args: Any, stations: Sequence[Station], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.stations = stations
        for station in stations:
            self.fields[f"pace_{station.pk}"] = forms.DecimalField(
                label=station.name, required=False, max_digits=5, decimal_places=2
            )

    @staticmethod
    def of(person: Person) -> dict[str, Decimal]:
        return {f"pace_{skill.station_id}": skill.pace for skill in person.skills.all()}

    def paces(self) -> dict[Station, Decimal]:
        typed = {station: self.cleaned_data[f"pace_{station.pk}"] for station in self.stations}
        return {station: pace for station, pace in typed.items() if pace is not None}


class WeekForm(forms.Form):
    """A line for each weekday; “same” says the same as Monday."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for weekday in Shift.Weekday:
            self.fields[f"day_{weekday.value}"] = forms.CharField(
                label=weekday.label,
                required=False,
                max_length=120,
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            )
        self.fields["like_monday"] = forms.BooleanField(
            required=False, label="Tuesday to Friday the same as Monday"
        )

    @staticmethod
    def of(shifts: Iterable[Shift]) -> dict[str, str]:
        days: dict[int, list[Span]] = {}
        for shift in shifts:
            days.setdefault(shift.weekday, []).append((shift.start, shift.stop))
        return {f"day_{weekday}": write_spans(spans) for weekday, spans in days.items()}

    def clean(self) -> dict[str, Any]:
        typed = dict(self.cleaned_data)
        monday = typed.get("day_0", "")
        self.week: dict[int, list[Span]] = {}
        for weekday in range(7):
            text = typed.get(f"day_{weekday}", "").strip()
            if weekday and (
                text.lower() in (SAME, "same as monday") or (typed.get("like_monday") and weekday < 5)
            ):
                text = monday
            try:
                self.week[weekday] = read_spans(text)
            except ValidationError as error:
                self.add_error(f"day_{weekday}", error)
        return typed


class DayOffForm(forms.Form):
    first = forms.DateField(label="First day", widget=DayInput())
    last = forms.DateField(label="Last day", required=False, widget=DayInput())
    reason = forms.CharField(max_length=80, required=False)


class ExtraHoursForm(forms.Form):
    day = forms.DateField(widget=DayInput())
    start = forms.TimeField(label="From", widget=ClockInput())
    stop = forms.TimeField(label="To", widget=ClockInput())


class ClosedDayForm(forms.Form):
    day = forms.DateField(widget=DayInput())
    name = forms.CharField(max_length=80, required=False, label="Why")


class HolidaysForm(forms.Form):
    """Which of the holidays of a year are taken over."""

    def __init__(self, *args: Any, found: Sequence[tuple[date, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.found = {day.isoformat(): (day, name) for day, name in found}
        self.fields["days"] = forms.MultipleChoiceField(
            choices=[(key, name) for key, (_, name) in self.found.items()],
            error_messages={"required": "No day was chosen."},
        )

    def chosen(self) -> list[tuple[date, str]]:
        return [self.found[key] for key in self.cleaned_data["days"]]


class AccountForm(forms.Form):
    username = forms.CharField(
        max_length=150,
        label="Name to sign in with",
        validators=Account._meta.get_field("username").validators,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    first_name = forms.CharField(max_length=150, required=False, label="First name")
    last_name = forms.CharField(max_length=150, required=False, label="Last name")
    role = forms.ChoiceField(choices=Role.choices, initial=Role.BENCH)
    station = forms.ModelChoiceField(
        Station.objects.filter(active=True),
        required=False,
        empty_label="any",
        label="Station of the tablet",
        help_text="For a bench account: the page that it opens with.",
    )


class NewAccountForm(AccountForm):
    password = forms.CharField(
        max_length=128,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="At least 12 characters, best some words that do not belong together. Tell it to whoever signs in.",
    )


class ResetForm(forms.Form):
    password = forms.CharField(
        max_length=128, label="New password", widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
