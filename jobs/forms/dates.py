from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import forms

from jobs.models import Gate, Job, Nature, Operation, Person, Route, Stage, Station


def _day() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class PromiseForm(forms.Form):
    """A day and who was told. Whether the day may be promised is for the action to say."""

    day = forms.DateField(label="Promise this day", widget=_day())
    told = forms.CharField(
        label="Told to", max_length=80, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    reason = forms.CharField(label="Why it changes", max_length=200, required=False)

    def __init__(
        self,
        data: object = None,
        *,
        proposed: date | None = None,
        earlier: date | None = None,
        told: str = "",
    ) -> None:
        super().__init__(data, initial={"day": proposed, "told": told})  # type: ignore[arg-type]
        if earlier is None:
            del self.fields["reason"]


class WhatIfForm(forms.Form):
    """Several changes at once, none of them required. What they mean is `actions.whatif.Wishes`."""

    away = forms.ModelMultipleChoiceField(
        Person.objects.none(), label="Who is away", required=False, widget=forms.CheckboxSelectMultiple
    )
    away_until = forms.DateField(label="Until that day, included", required=False, widget=_day())
    gate = forms.ModelChoiceField(
        Gate.objects.none(), label="What comes late", required=False, empty_label="nothing"
    )
    gate_day = forms.DateField(label="It comes on", required=False, widget=_day())
    outside = forms.ModelChoiceField(
        Operation.objects.none(), label="Work at the supplier's", required=False, empty_label="nothing"
    )
    outside_days = forms.IntegerField(label="Days later", required=False, min_value=-365, max_value=365)
    saturdays = forms.IntegerField(
        label="How many Saturday mornings", required=False, min_value=0, max_value=26
    )
    saturday_people = forms.ModelMultipleChoiceField(
        Person.objects.none(), label="Who comes", required=False, widget=forms.CheckboxSelectMultiple
    )
    trained = forms.ModelChoiceField(
        Person.objects.none(), label="Who learns", required=False, empty_label="nobody"
    )
    trained_at = forms.ModelChoiceField(
        Station.objects.none(), label="At which station", required=False, empty_label="no station"
    )
    trained_pace = forms.DecimalField(
        label="At what pace", required=False, min_value=Decimal("0.1"), max_value=10, decimal_places=2
    )
    first = forms.ModelChoiceField(
        Job.objects.none(), label="Goes first", required=False, empty_label="no job"
    )
    route = forms.ModelChoiceField(
        Route.objects.none(), label="New job by route", required=False, empty_label="no job"
    )
    pieces = forms.IntegerField(label="Pieces", required=False, min_value=1, max_value=20_000)
    new_due = forms.DateField(label="Promised for", required=False, widget=_day())
    rush = forms.BooleanField(label="It goes before everything else", required=False)
    more_people = forms.ModelChoiceField(
        Station.objects.none(), label="One more person at", required=False, empty_label="no station"
    )
    more_benches = forms.ModelChoiceField(
        Station.objects.none(), label="One more bench at", required=False, empty_label="no station"
    )

    # What is filled in together, and the sentence where one of the two is missing.
    PAIRS = (
        ("away", "away_until", "Say until when."),
        ("away_until", "away", "Say who."),
        ("gate", "gate_day", "Say on which day it comes."),
        ("gate_day", "gate", "Say what comes later."),
        ("outside", "outside_days", "Say how many days."),
        ("outside_days", "outside", "Say which work."),
        ("saturdays", "saturday_people", "Say who comes."),
        ("saturday_people", "saturdays", "Say how many Saturdays."),
        ("trained", "trained_at", "Say at which station."),
        ("trained_at", "trained", "Say who learns it."),
        ("route", "pieces", "Say how many pieces it has."),
        ("new_due", "route", "Choose its route."),
        ("rush", "route", "Choose its route."),
    )

    def __init__(self, data: object = None, *, at: datetime) -> None:
        super().__init__(data)  # type: ignore[arg-type]
        people, stations = Person.objects.filter(active=True), Station.objects.filter(active=True)
        open_gates = Gate.objects.filter(job__stage=Stage.ORDERED, cleared__isnull=True)
        outside = Operation.objects.open(at).filter(kind__nature=Nature.OUTSIDE)
        for name, rows in {
            "away": people,
            "saturday_people": people,
            "trained": people,
            "trained_at": stations,
            "more_people": stations,
            "more_benches": stations,
            "gate": open_gates.select_related("job").order_by("job__number", "pk"),
            "outside": outside.select_related("job", "panel", "kind").order_by("job__number", "pk"),
            "first": Job.objects.open(),
            "route": Route.objects.filter(active=True),
        }.items():
            self.fields[name].queryset = rows  # type: ignore[attr-defined]
        self.fields["outside"].label_from_instance = _outside  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        for given, missing, sentence in self.PAIRS:
            if typed.get(given) and not typed.get(missing) and missing not in self.errors:
                self.add_error(missing, sentence)
        return typed


def _outside(operation: Operation) -> str:
    code = operation.panel.code if operation.panel else operation.job.number
    return f"{code} {operation}"
