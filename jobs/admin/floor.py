"""Jobs, panels and operations: their plain facts can be corrected here, what happens to them is for the actions."""

# Django's classes for forms and the admin take no type arguments at run time.
# mypy: disable-error-code="type-arg"

from typing import Any

from django import forms
from django.contrib import admin
from django.core.exceptions import ValidationError
from django.db import models
from django.http import HttpRequest

from jobs.actions import Refused
from jobs.actions.routes import check_no_cycle
from jobs.models import Gate, Job, Operation, Panel, Promise

from .base import LookedAtInline, Recorded


class Corrected(Recorded):
    """Made and taken away by actions; some facts of it can be corrected here."""

    show_full_result_count = False

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class GateInline(LookedAtInline):
    model = Gate


class PromiseInline(LookedAtInline):
    model = Promise
    fields = ("day", "given_at", "given_by", "told", "reason", "chance")


@admin.register(Job)
class JobAdmin(Corrected):
    list_display = ("number", "title", "customer", "stage", "wanted_by", "weight")
    list_filter = ("stage",)
    list_select_related = ("customer",)
    search_fields = ("number", "title", "customer__name")
    autocomplete_fields = ("customer",)
    readonly_fields = ("number", "workshop", "stage", "entered_at", "ordered_at", "closed_at")
    inlines = (GateInline, PromiseInline)


@admin.register(Panel)
class PanelAdmin(Corrected):
    list_display = ("code", "name", "job", "pieces", "copies", "route", "where")
    list_select_related = ("job", "route")
    search_fields = ("name", "job__number", "job__title")
    autocomplete_fields = ("route",)
    readonly_fields = ("job", "number", "copies", "pieces")
    exclude = ("drawing",)


class OperationForm(forms.ModelForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if "after" in self.fields:
            same_job = Operation.objects.filter(job=self.instance.job).exclude(pk=self.instance.pk)
            self.fields["after"].queryset = same_job.select_related("kind", "panel__job")  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        others = Operation.objects.filter(job=self.instance.job).prefetch_related("after")
        after = {row.pk: [before.pk for before in row.after.all()] for row in others}
        after[self.instance.pk] = [before.pk for before in typed.get("after", ())]
        names = {row.pk: str(row) for row in others.select_related("kind")}
        try:
            check_no_cycle(after, lambda row: names[row])
        except Refused as refused:
            raise ValidationError({"after": refused.sentence}) from refused
        return typed


@admin.register(Operation)
class OperationAdmin(Corrected):
    form = OperationForm
    list_display = ("__str__", "job", "panel", "kind", "estimate", "quantity", "started_at", "finished_at")
    list_filter = (("finished_at", admin.EmptyFieldListFilter), "kind")
    list_select_related = ("job", "panel__job", "kind")
    search_fields = ("label", "kind__name", "job__number", "job__title", "panel__name")
    fields = (
        "job",
        "panel",
        "kind",
        "label",
        "place",
        "after",
        "estimate",
        "quantity",
        "quantity_done",
        "started_at",
        "finished_at",
        "skipped",
        "keeper",
        "pinned_person",
        "pinned_place",
        "early",
    )
    readonly_fields = tuple(name for name in fields if name not in ("label", "place", "after", "estimate"))

    def get_queryset(self, request: HttpRequest) -> models.QuerySet[Operation]:
        return super().get_queryset(request).select_related("kind", "job", "panel__job")
