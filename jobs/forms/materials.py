"""What is typed on the pages of materials."""

from typing import Any

from django import forms

from jobs.models import Supplier

from .fields import DayField


class NeedForm(forms.Form):
    """How much of one thing, at which price and from whom."""

    amount = forms.DecimalField(label="Amount", min_value=0, max_digits=12, decimal_places=3)
    price = forms.DecimalField(
        label="Price of a unit", min_value=0, max_digits=9, decimal_places=2, required=False
    )
    supplier = forms.ModelChoiceField(
        label="Supplier", queryset=Supplier.objects.filter(active=True), required=False, empty_label="nobody"
    )
    note = forms.CharField(label="Note", max_length=200, required=False)


class ExpectForm(forms.Form):
    """The day that the supplier names."""

    expected = DayField(label="Expected on", required=False)


class ShopForm(forms.Form):
    """What the list of the whole shop shows."""

    supplier = forms.ModelChoiceField(
        label="Supplier", queryset=Supplier.objects.all(), required=False, empty_label="everybody"
    )
    show = forms.ChoiceField(
        label="Show", choices=[("", "still to come"), ("all", "all that is listed")], required=False
    )
    together = forms.BooleanField(label="Came of all jobs cut together", required=False)

    def __init__(self, *args: Any, **options: Any) -> None:
        options.setdefault("auto_id", "list-%s")
        super().__init__(*args, **options)
