"""Hours that are typed in afterwards or corrected."""

from datetime import date, datetime, time
from typing import Any

from django import forms
from django.forms.utils import from_current_timezone
from django.utils.translation import gettext_lazy as _

from jobs.forms.bench import TapForm
from jobs.forms.fields import DayField, HoursField
from jobs.models import Operation, Person
from jobs.models.shipped import named


class ClockField(forms.TimeField):
    """A time of day on the studio's clock."""

    def __init__(self, **options: Any) -> None:
        shown: dict[str, Any] = {
            "widget": forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
            "required": False,
        }
        super().__init__(**shown | options)


class OperationChoice(forms.ModelChoiceField):  # type: ignore[type-arg]  # Not generic at run time.
    def label_from_instance(self, obj: Any) -> str:
        return f"{work_name(obj)}, {obj.panel.name if obj.panel else obj.job.title}"


def work_name(operation: Operation) -> str:
    """How one operation is told from all others: 0412/3 Beveling."""
    code = operation.panel.code if operation.panel else operation.job.number
    return f"{code} {named(operation)}"


class WrittenForm(TapForm):
    """Hours on some work: from one time to another, or an amount on a day."""

    day = DayField(label=_("Day"))
    start = ClockField(label=_("From"))
    stop = ClockField(label=_("To"))
    hours = HoursField(label=_("Or hours on that day"), required=False)
    note = forms.CharField(label=_("Note"), required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.errors:
            return cleaned
        times = (cleaned.get("start"), cleaned.get("stop"))
        if None in times and times != (None, None):
            self.add_error("stop" if times[1] is None else "start", _("Both times are needed."))
        elif times == (None, None) and cleaned.get("hours") is None:
            self.add_error("hours", _("Type from when to when it was, or how many hours."))
        elif times != (None, None) and cleaned.get("hours") is not None:
            self.add_error("hours", _("Type either the times or the hours, not both."))
        elif times != (None, None):
            for name in ("start", "stop"):
                _place(self, name, cleaned)
        return cleaned


class BenchWrittenForm(WrittenForm):
    """What a person writes down at their own bench: on work they may have done there."""

    operation = OperationChoice(Operation.objects.none(), label=_("Work"), empty_label=_("Choose the work"))
    field_order = ("client_id", "operation", "day", "start", "stop", "hours", "note")

    def __init__(self, *args: Any, operations: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["operation"].queryset = operations  # type: ignore[attr-defined]


class LeadWrittenForm(WrittenForm):
    """What the lead writes down for anybody, on anything; `work` is the name of an operation."""

    person = forms.ModelChoiceField(Person.objects.filter(active=True), label="Person", empty_label="Who")
    work = forms.CharField(
        label=_("Work"),
        max_length=120,
        widget=forms.TextInput(attrs={"list": "works", "autocomplete": "off"}),
        help_text="Panel and kind, such as 0412/3 Beveling.",
    )
    allow = forms.BooleanField(label="Allow it though it may not be worked on", required=False)
    reason = forms.CharField(
        label="Why, in a week that is closed", required=False, max_length=200, help_text="Only needed there."
    )
    field_order = ("client_id", "person", "work", "day", "start", "stop", "hours", "note", "allow", "reason")

    def clean_work(self) -> Operation:
        """The operation of that name; of several that share it the first that is unfinished."""
        code, _, name = self.cleaned_data["work"].partition(" ")
        number, slash, panel = code.partition("/")
        rows = Operation.objects.filter(job__number=number, skipped=False).select_related("kind", "job")
        if slash and panel.isdecimal():
            rows = rows.filter(panel__number=int(panel[:6]))
        else:
            rows = rows.filter(panel=None)
        same = [row for row in rows if str(row).casefold() == name.strip().casefold()]
        if not same:
            raise forms.ValidationError(
                "There is no such work. Type the panel and the kind: 0412/3 Beveling."
            )
        return min(same, key=lambda row: (row.finished_at is not None, row.pk))


class CorrectForm(TapForm):
    """Other times for an entry."""

    day = DayField(label=_("Day"))
    start = ClockField(label=_("From"), required=True)
    stop = ClockField(label=_("To"), required=True)
    reason = forms.CharField(label=_("Why"), required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not self.errors:
            for name in ("start", "stop"):
                _place(self, name, cleaned)
        return cleaned


class ConfirmForm(TapForm):
    """A day that a person confirms."""

    day = DayField()


class TakeBackForm(TapForm):
    reason = forms.CharField(label=_("Why it is taken back"), max_length=200)


def _place(form: forms.Form, name: str, cleaned: dict[str, Any]) -> None:
    """Add `<name>_at`, the aware datetime of a day and a time; some times do not exist where clocks change."""
    try:
        cleaned[f"{name}_at"] = moment(cleaned["day"], cleaned[name])
    except forms.ValidationError:
        form.add_error(name, _("Clocks change at that time: type another one."))


def moment(day: date, clock: time) -> datetime:
    """A time of the studio's clock on a day; ValidationError where there is none or there are two of it."""
    made = from_current_timezone(datetime.combine(day, clock))
    assert made is not None  # A naive datetime was given.
    return made
