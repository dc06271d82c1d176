"""Kinds of work, routes and customers: changed here."""

# Django's classes for forms and the admin take no type arguments at run time.
# mypy: disable-error-code="type-arg,no-any-return"

from typing import Any

from django import forms
from django.contrib import admin, messages
from django.core.exceptions import ValidationError
from django.db import models
from django.forms.models import BaseInlineFormSet
from django.http import HttpRequest

from jobs.actions import Refused
from jobs.actions.routes import check_no_cycle
from jobs.actions.workshops import check_kind_stays, check_same_as
from jobs.models import Customer, Nature, OperationKind, Route, RouteStep, Studio

from .base import LeadOnly, Recorded


class LinesField(forms.CharField):
    """A list of words, one a line."""

    widget = forms.Textarea(attrs={"rows": 6})

    def prepare_value(self, value: Any) -> Any:
        return "\n".join(value) if isinstance(value, list) else value

    def to_python(self, value: Any) -> list[str]:  # type: ignore[override]
        if isinstance(value, list):
            return value
        return [line.strip() for line in (value or "").splitlines() if line.strip()]

    def has_changed(self, initial: Any, data: Any) -> bool:
        return bool((initial or []) != self.to_python(data))


class KindForm(forms.ModelForm):
    steps = LinesField(required=False, help_text="What each piece goes through, one step a line.")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if "same_as" in self.fields:
            # One of them is pointed at by all others, so that they can be found in one step.
            firsts = OperationKind.objects.filter(nature=Nature.ATTENDED, same_as=None)
            self.fields["same_as"].queryset = firsts.exclude(pk=self.instance.pk)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        try:
            check_kind_stays(self.instance, typed.get("station"))
            check_same_as(self.instance, typed.get("same_as"), typed.get("station"))
        except Refused as refused:
            self.add_error(refused.field, refused.sentence)
        return typed


@admin.register(OperationKind)
class OperationKindAdmin(Recorded):
    form = KindForm
    list_display = ("name", "station", "nature", "crew", "place", "counts_pieces", "gates_shown")
    list_filter = ("nature", "station")
    list_select_related = ("station",)
    search_fields = ("name",)
    autocomplete_fields = ("station",)
    prepopulated_fields = {"slug": ("name",)}
    ordering = ("place", "name")

    def get_exclude(self, request: HttpRequest, obj: Any = None) -> Any:
        return () if Studio.current().has_several_workshops else ("same_as",)

    @admin.display(description="waits for")
    def gates_shown(self, kind: OperationKind) -> str:
        return ", ".join(str(gate.label) for gate in kind.gates) or "–"


class StepFormSet(BaseInlineFormSet):
    def add_fields(self, form: Any, index: int | None) -> None:
        super().add_fields(form, index)
        form.fields["DELETE"].widget.attrs["aria-label"] = "Delete"

    def clean(self) -> None:
        super().clean()
        lines = [line for line in self.forms if line not in self.deleted_forms and line.has_changed()]
        lines += [line for line in self.initial_forms if line not in lines and line not in self.deleted_forms]
        after = {
            line.instance.pk: [step.pk for step in line.cleaned_data.get("after", ())]
            for line in lines
            if line.instance.pk
        }
        names = {line.instance.pk: str(line.instance) for line in lines}
        try:
            check_no_cycle(after, lambda step: names.get(step, "a step"))
        except Refused as refused:
            raise ValidationError(refused.sentence) from refused


class StepInline(LeadOnly, admin.TabularInline):
    model = RouteStep
    formset = StepFormSet
    extra = 1
    autocomplete_fields = ("kind",)
    fields = ("place", "kind", "label", "condition", "after", "minutes", "piece_minutes")

    def get_queryset(self, request: HttpRequest) -> models.QuerySet[RouteStep]:
        return super().get_queryset(request).select_related("kind")

    def formfield_for_dbfield(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        # In a table the head of the column is no label.
        field = super().formfield_for_dbfield(db_field, request, **kwargs)
        if field is not None:
            field.widget.attrs["aria-label"] = str(field.label)
        return field

    def formfield_for_manytomany(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        # Only steps of the same route; a new route has none until it is saved once.
        match = request.resolver_match
        route = match.kwargs.get("object_id") if match else None
        kwargs["queryset"] = RouteStep.objects.filter(route=route).select_related("kind")
        return super().formfield_for_manytomany(db_field, request, **kwargs)


@admin.register(Route)
class RouteAdmin(Recorded):
    list_display = ("name", "active", "step_count")
    list_filter = ("active",)
    search_fields = ("name",)
    inlines = (StepInline,)
    actions = ("put_in_use", "put_out_of_use")

    def get_queryset(self, request: HttpRequest) -> models.QuerySet[Route]:
        return super().get_queryset(request).annotate(step_total=models.Count("steps"))

    @admin.display(description="steps", ordering="step_total")
    def step_count(self, route: Any) -> int:
        return int(route.step_total)

    @admin.action(description="Put in use", permissions=["change"])
    def put_in_use(self, request: HttpRequest, queryset: models.QuerySet[Route]) -> None:
        self._use(request, queryset, True)

    @admin.action(description="Put out of use", permissions=["change"])
    def put_out_of_use(self, request: HttpRequest, queryset: models.QuerySet[Route]) -> None:
        self._use(request, queryset, False)

    def _use(self, request: HttpRequest, routes: models.QuerySet[Route], active: bool) -> None:
        count = self.change_rows(request, routes, "active", active)
        self.message_user(request, f"Changed: {count}.", messages.SUCCESS)


@admin.register(Customer)
class CustomerAdmin(Recorded):
    planner_reads = False
    list_display = ("name", "contact", "email", "phone", "job_count")
    search_fields = ("name", "contact", "email")

    def get_queryset(self, request: HttpRequest) -> models.QuerySet[Customer]:
        return super().get_queryset(request).annotate(job_total=models.Count("jobs"))

    @admin.display(description="jobs", ordering="job_total")
    def job_count(self, customer: Any) -> int:
        return int(customer.job_total)
