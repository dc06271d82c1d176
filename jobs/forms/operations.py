"""What is typed about one operation, a form a verb, and about one more operation."""

from typing import Any

from django import forms
from django.db.models import F

from jobs.forms.fields import HoursField
from jobs.forms.workshops import narrow
from jobs.models import Nature, Operation, OperationKind, Panel, Person, Studio


class OperationChoice(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]  # Not subscriptable at run time.
    """Several operations of one job, by their names; those of other panels with their panel."""

    def __init__(self, panel: Panel | None, queryset: Any, **options: Any) -> None:
        super().__init__(queryset, required=False, widget=forms.CheckboxSelectMultiple, **options)
        self.panel = panel

    def label_from_instance(self, obj: Any) -> str:
        other = obj.panel is not None and obj.panel != self.panel
        return f"{obj}, {obj.panel.name}" if other else str(obj)


def _choosable(operation: Operation) -> Any:
    """What an operation may be put after: the rest of its panel and the whole job's; for the whole job's, all."""
    rows = Operation.objects.filter(job=operation.job).exclude(pk=operation.pk)
    if operation.panel_id is not None:
        rows = rows.filter(panel=operation.panel) | rows.filter(panel=None)
    return _listed(rows)


def _listed(rows: Any) -> Any:
    """By panel and place, what is for the whole job last."""
    return rows.select_related("kind", "panel").order_by(
        F("panel__number").asc(nulls_last=True), "place", "pk"
    )


class EstimateForm(forms.Form):
    estimate = HoursField(label="Estimate")
    why = forms.CharField(label="Why it changes", max_length=200)

    def __init__(self, *args: Any, operation: Operation, studio: Studio, **options: Any) -> None:
        super().__init__(*args, **{"initial": {"estimate": operation.estimate}, **options})
        self.fields["estimate"].style = studio.hours  # type: ignore[attr-defined]


class OrderForm(forms.Form):
    place = forms.IntegerField(label="Place in the list", min_value=1, max_value=1000)

    def __init__(self, *args: Any, operation: Operation, **options: Any) -> None:
        same = Operation.objects.filter(job=operation.job, panel=operation.panel).order_by("place", "pk")
        place = list(same.values_list("pk", flat=True)).index(operation.pk) + 1
        super().__init__(*args, **{"initial": {"place": place, "after": operation.after.all()}, **options})
        self.fields["after"] = OperationChoice(operation.panel, _choosable(operation), label="Comes after")
        self.order_fields(["after", "place"])


class PersonForm(forms.Form):
    """Whoever has the skill; whoever has it not is refused by the action."""

    person = forms.ModelChoiceField(
        Person.objects.none(), label="Work of", required=False, empty_label="whoever is free"
    )

    def __init__(self, *args: Any, operation: Operation, **options: Any) -> None:
        super().__init__(*args, **{"initial": {"person": operation.pinned_person}, **options})
        people = Person.objects.filter(active=True, skills__station=operation.kind.station_id)
        self.fields["person"].queryset = people.distinct()  # type: ignore[attr-defined]


class SplitForm(forms.Form):
    pieces = forms.IntegerField(label="Pieces of the new part", min_value=1)
    minutes = HoursField(label="Hours of the new part", required=False, help_text="Empty: its share.")

    def __init__(self, *args: Any, operation: Operation, **options: Any) -> None:
        super().__init__(*args, **options)
        if not operation.quantity:
            del self.fields["pieces"]
            self.fields["minutes"].help_text = "Empty: half of them."


class AddOperationForm(forms.Form):
    kind = forms.ModelChoiceField(OperationKind.objects.all())
    label = forms.CharField(
        label="Name", max_length=60, required=False, help_text="Empty: the name of the kind."
    )
    estimate = HoursField(label="Hours")

    def __init__(self, *args: Any, choosable: Any, panel: Panel | None, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["after"] = OperationChoice(panel, choosable, label="Comes after")
        self.fields["before"] = OperationChoice(panel, choosable, label="Comes before")
        self.fields["kind"].widget.attrs["autofocus"] = True
        if panel is not None:
            narrow(self, panel.job.workshop_id)


def choosable_in(panel: Panel) -> Any:
    rows = Operation.objects.filter(job=panel.job)
    return _listed(rows.filter(panel=panel) | rows.filter(panel=None))


def can_be_split(operation: Operation) -> bool:
    """Whether the page offers it; the action decides."""
    return operation.kind.nature != Nature.CURE
