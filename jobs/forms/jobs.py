"""What is typed about a job: the list's filters, the job itself, its panels when it is new, gates, stage."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms.fields import DayField, LengthField
from jobs.models import Customer, GateKind, Job, Panel, Route, RouteStep, Stage, Studio

ANY = "any"
STAGES = [(Stage.ORDERED.value, "open"), (ANY, "every stage")] + [
    (stage.value, stage.label) for stage in Stage if stage != Stage.ORDERED
]


class JobFilter(forms.Form):
    q = forms.CharField(
        label="Number, title, customer or panel",
        required=False,
        max_length=80,
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    stage = forms.ChoiceField(choices=STAGES, required=False)
    customer = forms.ModelChoiceField(Customer.objects.all(), required=False, empty_label="every customer")


def _customer() -> forms.CharField:
    return forms.CharField(
        max_length=80,
        help_text="A new name makes a new customer.",
        widget=forms.TextInput(attrs={"list": "customers", "autocomplete": "off"}),
    )


class AboutForm(forms.Form):
    title = forms.CharField(max_length=120, widget=forms.TextInput(attrs={"autofocus": True}))
    customer = _customer()
    wanted_by = DayField(label="Wanted by", required=False)
    weight = forms.DecimalField(
        label="How much a late day matters",
        max_digits=4,
        decimal_places=1,
        help_text="1 as a rule; 2 counts each late day double.",
    )
    notes = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 3}))


class CustomerForm(forms.Form):
    contact = forms.CharField(
        max_length=80, required=False, widget=forms.TextInput(attrs={"autofocus": True})
    )
    email = forms.EmailField(required=False, label="Mail")
    phone = forms.CharField(max_length=40, required=False)
    address = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 3}))
    notes = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))


class WhyForm(forms.Form):
    why = forms.CharField(label="Why", max_length=200)


class EmptyForm(forms.Form):
    """For verbs that need nothing but the tap; a refusal stands above its button."""


class CompleteForm(forms.Form):
    anyway = forms.BooleanField(required=False, label="Close it though work is open (the lead only)")


class HoldForm(forms.Form):
    reason = forms.CharField(label="What it waits for", max_length=200)
    until = DayField(label="Until about", required=False)


class GateForm(forms.Form):
    expected = DayField(label="Expected on", required=False)


class NewGateForm(GateForm):
    kind = forms.ChoiceField(label="Waits for")
    field_order = ["kind", "expected"]

    def __init__(self, *args: Any, taken: set[str], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["kind"].choices = [c for c in GateKind.choices if c[0] not in taken]  # type: ignore[attr-defined]


class PanelForm(forms.Form):
    """A panel of a new job, or one more of a job that is there."""

    name = forms.CharField(max_length=80)
    route = forms.ModelChoiceField(
        Route.objects.filter(active=True), required=False, empty_label="no route: work is added by hand"
    )
    width_mm = LengthField(label="Width")
    height_mm = LengthField(label="Height")
    thickness_mm = LengthField(label="Glass thickness")
    pieces = forms.IntegerField(label="Pieces in one", min_value=1, max_value=20_000)
    copies = forms.IntegerField(label="Copies", min_value=1, max_value=500)
    conditions = forms.MultipleChoiceField(
        label="Where the route has it", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, studio: Studio, conditions: list[tuple[str, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        for name in ("width_mm", "height_mm", "thickness_mm"):
            self.fields[name].unit = studio.units  # type: ignore[attr-defined]
        example = "24 1/2 in" if studio.units == Studio.Units.INCH else "622 mm"
        self.fields["width_mm"].help_text = f"Such as {example}."
        if conditions:
            self.fields["conditions"].choices = conditions  # type: ignore[attr-defined]
        else:
            del self.fields["conditions"]


class BasePanels(forms.BaseFormSet):  # type: ignore[type-arg]  # Not subscriptable at run time.
    """The panels of a new job; rows that nobody filled in are left aside."""

    def typed(self) -> list[dict[str, Any]]:
        return [form.cleaned_data for form in self.forms if form.cleaned_data.get("name")]

    def clean(self) -> None:
        if not any(self.errors) and not self.typed():
            raise ValidationError("A job has at least one panel.")


MOST_PANELS = 30
PANEL_START: dict[str, Any] = {"thickness_mm": Decimal("6.35"), "pieces": 1, "copies": 1}
PanelSet = forms.formset_factory(
    PanelForm,
    formset=BasePanels,
    extra=0,
    min_num=1,
    max_num=MOST_PANELS,
    absolute_max=MOST_PANELS,
    validate_max=True,
)


def all_conditions() -> list[tuple[str, str]]:
    """Every condition of a step of a route in use, as choices."""
    steps = RouteStep.objects.filter(route__active=True).exclude(condition="").order_by("condition")
    return [(word, word) for word in steps.values_list("condition", flat=True).distinct()]


class NewJobForm(forms.Form):
    number = forms.CharField(max_length=20, required=False, help_text="Empty: the next one.")
    title = forms.CharField(max_length=120)
    customer = _customer()
    phone = forms.CharField(
        label="Their phone",
        max_length=40,
        required=False,
        help_text="What is known of a customer stays as it is.",
    )
    email = forms.EmailField(label="Their mail", required=False)
    # As it mostly begins; a quote that is accepted makes an order of it.
    stage = forms.ChoiceField(
        choices=[(s.value, s.label) for s in (Stage.ENQUIRY, Stage.QUOTED, Stage.ORDERED)],
        initial=Stage.ENQUIRY,
    )
    wanted_by = DayField(label="Wanted by", required=False)
    gates = forms.MultipleChoiceField(
        label="What it waits for",
        choices=GateKind.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    notes = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))


class CopyForm(forms.Form):
    number = forms.CharField(max_length=20, required=False, help_text="Empty: the next one.")
    title = forms.CharField(max_length=120)
    customer = _customer()
    wanted_by = DayField(label="Wanted by", required=False)
    panels = forms.ModelMultipleChoiceField(Panel.objects.none(), widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, source: Job, **options: Any) -> None:
        panels = source.panels.order_by("number")
        first = {"title": source.title, "customer": source.customer.name, "panels": panels}
        super().__init__(*args, **{"initial": first, **options})
        self.fields["panels"].queryset = panels  # type: ignore[attr-defined]
