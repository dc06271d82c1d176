"""What is typed when something has changed during the day: a small form each. What may be is for the actions to say."""

from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.formats import date_format

from jobs.models import (
    ChangeKind,
    Gate,
    GateKind,
    Job,
    Nature,
    Need,
    Operation,
    Person,
    Skill,
    Stage,
    Station,
    Studio,
)
from jobs.models.day_changes import Asked, Late, back_on

from .fields import DayField
from .workshops import narrow

CLOCK = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")


class ChangeForm(forms.Form):
    """What all six share: why, and how the typed becomes `Asked`."""

    kind: ChangeKind

    def __init__(self, data: Any = None, *, at: datetime) -> None:
        today = at.astimezone(Studio.current().zone).date()
        super().__init__(data, initial=self.usual(today))
        self.fields["why"] = forms.CharField(
            label="Why, if it is to be remembered",
            max_length=200,
            required=False,
            widget=forms.TextInput(attrs={"autocomplete": "off"}),
        )

    def usual(self, today: date) -> dict[str, Any]:
        return {"until": today}

    def narrow(self, workshop: int | None) -> None:
        """Leave to be chosen what is of one workshop; None: of all."""
        narrow(self, workshop)

    def asked(self) -> Asked:
        return Asked(self.kind, **self.cleaned_data)


class MovedForm(ChangeForm):
    kind = ChangeKind.MOVED
    person = forms.ModelChoiceField(
        Person.objects.filter(active=True), label="Who moves", empty_label="choose"
    )
    station = forms.ModelChoiceField(
        Station.objects.filter(active=True), label="To which station", empty_label="choose"
    )
    until = DayField(label="Until the end of")

    def __init__(self, data: Any = None, *, at: datetime) -> None:
        super().__init__(data, at=at)
        able: dict[int, list[str]] = {}
        for person, station in Skill.objects.values_list("person", "station__name"):
            able.setdefault(person, []).append(station)
        self.fields["person"].label_from_instance = lambda person: (  # type: ignore[attr-defined]
            f"{person}: {', '.join(able.get(person.pk, ['no station']))}"
        )


class IllForm(ChangeForm):
    kind = ChangeKind.ILL
    person = forms.ModelChoiceField(Person.objects.filter(active=True), label="Who", empty_label="choose")
    until = DayField(label="Until that day, included")


class DownForm(ChangeForm):
    kind = ChangeKind.DOWN
    station = forms.ModelChoiceField(
        Station.objects.filter(active=True), label="At which station", empty_label="choose"
    )
    what = forms.CharField(
        label="Which machine or bench",
        max_length=40,
        required=False,
        help_text="As you call it: wheel 3, the cabinet",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    count = forms.IntegerField(label="How many benches cannot be used", min_value=1, max_value=200)
    until = DayField(label="Down until the end of")

    def usual(self, today: date) -> dict[str, Any]:
        return {"until": today, "count": 1}


class RushForm(ChangeForm):
    kind = ChangeKind.RUSH
    job = forms.ModelChoiceField(Job.objects.none(), label="Which job goes first", empty_label="choose")

    def __init__(self, data: Any = None, *, at: datetime) -> None:
        super().__init__(data, at=at)
        self.fields["job"].queryset = Job.objects.open()  # type: ignore[attr-defined]


class SaturdayForm(ChangeForm):
    kind = ChangeKind.SATURDAY
    until = DayField(label="Which day")
    people = forms.ModelMultipleChoiceField(
        Person.objects.filter(active=True), label="Who comes", widget=forms.CheckboxSelectMultiple
    )
    start = forms.TimeField(label="From", widget=CLOCK)
    stop = forms.TimeField(label="to", widget=CLOCK)

    def usual(self, today: date) -> dict[str, Any]:
        saturday = today + timedelta(days=(5 - today.weekday()) % 7)
        return {"until": saturday, "start": time(8), "stop": time(12)}

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        start, stop = typed.get("start"), typed.get("stop")
        if start and stop and stop <= start:
            self.add_error("stop", "It stops before it starts.")
        return typed

    def asked(self) -> Asked:
        typed = dict(self.cleaned_data)
        hours = typed.pop("start"), typed.pop("stop")
        return Asked(self.kind, **typed | {"people": list(typed["people"])}, hours=hours)


class LateForm(ChangeForm):
    """What may be late: glass and work that is on order, work that is out, and gates nothing on order opens."""

    kind = ChangeKind.LATE
    late = forms.ChoiceField(label="What comes late")
    until = DayField(label="It comes on")

    def __init__(self, data: Any = None, *, at: datetime) -> None:
        super().__init__(data, at=at)
        self.rows: dict[str, Late]
        groups = [
            ("On order", _needs()),
            ("Out at a supplier's", _outside(at)),
            ("What jobs wait for", _gates()),
        ]
        self.groups = groups
        self._offer(None)

    def narrow(self, workshop: int | None) -> None:
        self._offer(workshop)

    def _offer(self, workshop: int | None) -> None:
        choices: list[Any] = [("", "choose")]
        self.rows = {}
        for name, each in self.groups:
            rows = [found for found in each if workshop in (None, found[1].job.workshop_id)]
            if rows:
                self.rows |= {key: row for key, row, _ in rows}
                choices.append((name, [(key, words) for key, _, words in rows]))
        self.fields["late"].choices = choices  # type: ignore[attr-defined]

    def usual(self, today: date) -> dict[str, Any]:
        return {}

    def clean_late(self) -> Late:
        found = self.rows.get(self.cleaned_data["late"])
        if found is None:
            raise ValidationError("That is not among what can be late.")
        return found


def _expected(expected: date | None) -> str:
    return f"expected {date_format(expected, 'D j M')}" if expected else "no day given"


def _needs() -> list[tuple[str, Late, str]]:
    rows = Need.objects.open().filter(ordered__isnull=False, job__stage=Stage.ORDERED).exclude(gate="")
    rows = rows.select_related("job", "glass", "came", "material", "outside__kind")
    return [
        (f"need-{row.pk}", row, f"{row.job.number}: {row}, {_expected(row.expected)}")
        for row in rows.order_by("job__number", "pk")
    ]


def _outside(at: datetime) -> list[tuple[str, Late, str]]:
    rows = Operation.objects.open(at).filter(kind__nature=Nature.OUTSIDE, started_at__isnull=False)
    rows = rows.select_related("job", "panel", "kind").order_by("job__number", "pk")
    return [(f"work-{row.pk}", row, f"{_of(row)} {row}, {_expected(back_on(row))}") for row in rows]


def _gates() -> list[tuple[str, Late, str]]:
    """Without those that something on order opens: their day follows from that."""
    on_order = Need.objects.open().filter(ordered__isnull=False)
    taken = set(on_order.exclude(gate="").values_list("job", "gate"))
    rows = Gate.objects.filter(job__stage=Stage.ORDERED, cleared=None).select_related("job")
    return [
        (f"gate-{row.pk}", row, f"{row.job.number}: {GateKind(row.kind).label}, {_expected(row.expected)}")
        for row in rows.order_by("job__number", "pk")
        if (row.job_id, row.kind) not in taken
    ]


def _of(row: Operation) -> str:
    return row.panel.code if row.panel else row.job.number


FORMS: dict[ChangeKind, type[ChangeForm]] = {
    form.kind: form for form in (MovedForm, IllForm, DownForm, LateForm, RushForm, SaturdayForm)
}
