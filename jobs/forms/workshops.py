"""What forms have to do with workshops: rows of one to choose from, and which of several a new row is of."""

from collections.abc import Sequence
from typing import Any

from django import forms

from jobs.models import Job, OperationKind, Workshop
from jobs.models.scope import PATHS, scope


def narrow(form: forms.Form, workshop: int | None) -> None:
    """Let every field of a form that chooses rows choose those of one workshop alone; None: of all."""
    if workshop is None:
        return
    for field in form.fields.values():
        rows = getattr(field, "queryset", None)
        if (
            isinstance(field, forms.ModelChoiceField)
            and rows is not None
            and rows.model in (*PATHS, OperationKind)
        ):
            field.queryset = scope(rows, workshop)


def ask_workshop(form: forms.Form, rows: Sequence[Workshop], chosen: Workshop | None = None) -> None:
    """Ask which workshop it is of, where the reader has several: `rows`. Who is bound to one need not be asked."""
    if len(rows) > 1:
        form.fields["workshop"] = forms.ModelChoiceField(
            Workshop.objects.all(), initial=chosen or rows[0], empty_label=None
        )


def asked_workshop(form: forms.Form, rows: Sequence[Workshop]) -> dict[str, Any]:
    """What was chosen, as the actions take it: nothing in a studio with one workshop."""
    if "workshop" in form.fields:
        return {"workshop": form.cleaned_data["workshop"]}
    return {"workshop": rows[0]} if rows else {}


class MoveForm(forms.Form):
    """To which of the other workshops a job moves."""

    workshop = forms.ModelChoiceField(Workshop.objects.none(), label="To which workshop", empty_label=None)
    why = forms.CharField(label="Why, if it is to be remembered", max_length=200, required=False)

    def __init__(self, data: Any = None, *, rows: Sequence[Workshop], job: Job) -> None:
        super().__init__(data)
        others = Workshop.objects.filter(pk__in=[row.pk for row in rows if row != job.workshop])
        self.fields["workshop"].queryset = others  # type: ignore[attr-defined]


class WorkshopForm(forms.Form):
    name = forms.CharField(max_length=40)
    place = forms.IntegerField(label="Order")


class NewWorkshopForm(forms.Form):
    name = forms.CharField(max_length=40, label="New workshop")
