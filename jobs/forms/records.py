"""What of the record is looked at, as the address says it."""

from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError

from jobs.models import Nature, OperationKind, Route
from jobs.models.records import GROUPS, Chosen

from .fields import DayField

BY = {"kind": "Kind of work", "month": "Month", "job": "Job", "panel": "Panel", "route": "Route"}


class ChosenForm(forms.Form):
    """The filters of all pages of the record; `without` are those that a page has no use for."""

    by = forms.ChoiceField(
        label="By", choices=[(key, BY[key]) for key in BY if key in GROUPS], required=False
    )
    first = DayField(label="Finished from", required=False)
    last = DayField(label="to", required=False)
    kind = forms.ModelChoiceField(
        OperationKind.objects.filter(nature=Nature.ATTENDED),
        label="Work",
        to_field_name="slug",
        required=False,
        empty_label="all",
    )
    route = forms.ModelChoiceField(Route.objects.all(), label="Route", required=False, empty_label="all")
    job = forms.CharField(label="Job", max_length=20, required=False)

    def __init__(self, *args: Any, without: tuple[str, ...] = (), **options: Any) -> None:
        super().__init__(*args, **options)
        for name in without:
            del self.fields[name]

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or {}
        first, last = found.get("first"), found.get("last")
        if first and last and last < first:
            raise ValidationError("The last day comes before the first.")
        return found

    def chosen(self, zone: ZoneInfo) -> Chosen:
        """What was asked for; of a form that is not valid nothing is."""
        said = self.cleaned_data if self.is_valid() else {}
        return Chosen(
            zone,
            first=said.get("first"),
            last=said.get("last"),
            kind=said.get("kind"),
            route=said.get("route"),
            job=said.get("job", "").strip(),
        )
