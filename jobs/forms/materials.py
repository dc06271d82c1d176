"""What is typed on the pages of materials."""

from decimal import Decimal
from typing import Any

from django import forms

from jobs.estimating.areas import is_measured, shown_unit
from jobs.models import Came, Glass, Job, Material, Need, Studio, Supplier

from .fields import DayField


class NeedForm(forms.Form):
    """How much of one thing, at which price and from whom; what nobody touched is kept to the last place."""

    amount = forms.DecimalField(label="Amount", min_value=0, max_digits=12, decimal_places=3)
    price = forms.DecimalField(
        label="Price of a unit", min_value=0, max_digits=9, decimal_places=2, required=False
    )
    supplier = forms.ModelChoiceField(
        label="Supplier", queryset=Supplier.objects.filter(active=True), required=False, empty_label="nobody"
    )
    note = forms.CharField(label="Note", max_length=200, required=False)

    def __init__(self, data: Any, *, need: Need, studio: Studio, auto_id: str) -> None:
        self.need, self.unit = need, shown_unit(need.unit, studio.units)
        start = {
            "amount": self.unit.amount(need.amount),
            "price": None if need.price is None else self.unit.price(need.price),
            "supplier": need.supplier,
            "note": need.note,
        }
        super().__init__(data, initial=start, auto_id=auto_id)
        if is_measured(need.unit):
            self.fields["amount"].label = f"Amount, {self.unit.word}"
            self.fields["price"].label = f"Price per {self.unit.word}"

    def clean_amount(self) -> Decimal:
        typed: Decimal = self.cleaned_data["amount"]
        return self.unit.kept_amount(typed) if "amount" in self.changed_data else self.need.amount

    def clean_price(self) -> Decimal | None:
        typed: Decimal | None = self.cleaned_data["price"]
        if "price" not in self.changed_data or typed is None:
            return None if typed is None else self.need.price
        return self.unit.kept_price(typed)


class AddForm(forms.Form):
    """A thing that is put on a job's list by hand. `cleaned_data["what"]` is its row."""

    job = forms.ModelChoiceField(label="Job", queryset=Job.objects.none(), to_field_name="number")
    what = forms.ChoiceField(label="What")
    amount = forms.DecimalField(label="Amount", min_value=0, max_digits=12, decimal_places=3)
    needed_by = DayField(label="Needed by", required=False, help_text="Empty: as its work is planned.")
    price = forms.DecimalField(
        label="Price of a unit",
        min_value=0,
        max_digits=9,
        decimal_places=2,
        required=False,
        help_text="Empty: its usual price.",
    )
    supplier = forms.ModelChoiceField(
        label="Supplier",
        queryset=Supplier.objects.filter(active=True),
        required=False,
        empty_label="its usual one",
    )
    note = forms.CharField(label="Note", max_length=200, required=False)

    def __init__(self, *args: Any, studio: Studio, job: Job | None = None, **options: Any) -> None:
        options.setdefault("auto_id", "add-%s")
        super().__init__(*args, **options)
        of_job: Any = self.fields["job"]
        of_job.queryset = Job.objects.open()
        if job is not None:
            of_job.queryset, of_job.initial = Job.objects.filter(pk=job.pk), job.number
            of_job.widget = forms.HiddenInput()
        self.things = {
            f"{row._meta.model_name}-{row.pk}": row
            for model in (Glass, Came, Material)
            for row in model._default_manager.filter(active=True)
        }
        groups: dict[str, list[tuple[str, str]]] = {"": [("", "choose")]}
        for key, row in self.things.items():
            group = str(row._meta.verbose_name).capitalize()
            unit = shown_unit(row.unit, studio.units).word
            groups.setdefault(group, []).append((key, f"{row} ({unit})"))
        self.units = studio.units
        self.fields["what"].choices = [*groups.pop(""), *groups.items()]  # type: ignore[attr-defined]

    def clean_what(self) -> Glass | Came | Material:
        found: Glass | Came | Material = self.things[self.cleaned_data["what"]]
        return found

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = self.cleaned_data
        if typed.get("what") is not None:
            unit = shown_unit(typed["what"].unit, self.units)
            for name, kept in (("amount", unit.kept_amount), ("price", unit.kept_price)):
                if typed.get(name) is not None:
                    typed[name] = kept(typed[name])
        return typed


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
