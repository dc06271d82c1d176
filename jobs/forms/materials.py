"""What is typed on the pages of materials."""

from typing import Any

from django import forms

from jobs.models import Came, Glass, Job, Material, Supplier

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

    def __init__(self, *args: Any, job: Job | None = None, **options: Any) -> None:
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
            groups.setdefault(group, []).append((key, f"{row} ({row.unit})"))
        self.fields["what"].choices = [*groups.pop(""), *groups.items()]  # type: ignore[attr-defined]

    def clean_what(self) -> Glass | Came | Material:
        found: Glass | Came | Material = self.things[self.cleaned_data["what"]]
        return found


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
