"""What the lead looks for among all that was written down."""

from datetime import date
from typing import Any

from django import forms

from jobs.models import Account, Person


def _day(label: str) -> forms.DateField:
    return forms.DateField(required=False, label=label, widget=forms.DateInput(attrs={"type": "date"}))


class HistoryForm(forms.Form):
    job = forms.CharField(required=False, max_length=20, label="Job", help_text="Its number.")
    panel = forms.IntegerField(required=False, min_value=1, max_value=32767, label="Panel of it")
    subject = forms.ChoiceField(required=False, label="Kind of thing")
    number = forms.IntegerField(required=False, min_value=1, max_value=2**63 - 1, label="Its number")
    person = forms.ModelChoiceField(
        Person.objects.all(),
        required=False,
        label="Person",
        empty_label="Anybody",
        help_text="Did it, or is what was changed.",
    )
    account = forms.ModelChoiceField(
        Account.objects.order_by("username"), required=False, label="Account", empty_label="Any"
    )
    first = _day("From")
    last = _day("To")

    def __init__(self, *args: Any, subjects: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["subject"].choices = [("", "All"), *subjects]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        first, last = typed.get("first"), typed.get("last")
        if first and last and last < first:
            self.add_error("last", "The last day comes before the first.")
        for name in ("first", "last"):
            day = typed.get(name)
            if day and not date(1990, 1, 1) <= day <= date(2200, 1, 1):
                self.add_error(name, "That is too far away.")
        return typed
