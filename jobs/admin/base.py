"""What every page of the admin shares: it is the lead's, and no change goes by unwritten."""

# Django's classes for forms and the admin take no type arguments at run time.
# mypy: disable-error-code="type-arg"

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.contrib import admin
from django.db import models, transaction
from django.forms import BaseForm, ModelForm
from django.forms.models import BaseInlineFormSet, ModelMultipleChoiceField
from django.http import HttpRequest

from jobs.actions import Actor
from jobs.actions.base import mark_out_of_date, record
from jobs.models import Account, May

WHERE = "in the admin"


def is_lead(request: HttpRequest) -> bool:
    """The lead of the whole studio: these pages know no workshops."""
    user = request.user
    return isinstance(user, Account) and user.is_active and user.workshop_id is None and user.may(May.SET_UP)


class LeadOnly:
    """One permission for all of it: whoever sets up the studio may, the others may not."""

    def has_module_permission(self, request: HttpRequest) -> bool:
        return is_lead(request)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return is_lead(request)

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return is_lead(request)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return is_lead(request)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return is_lead(request)


class LookedAt(LeadOnly):
    """Only looked at here: it has a page, or actions, of its own."""

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class LookedAtAdmin(LookedAt, admin.ModelAdmin):
    actions = None
    show_full_result_count = False


class LookedAtInline(LookedAt, admin.TabularInline):
    extra = 0
    show_change_link = True


class Recorded(LeadOnly, admin.ModelAdmin):
    """Changed here: every save and delete, of the row, its inlines, its many-to-many and by list actions, writes an
    Event and, where the planner reads the model, marks the dates out of date, in the same transaction."""

    planner_reads = True

    def save_model(self, request: HttpRequest, obj: Any, form: ModelForm, change: bool) -> None:
        with transaction.atomic():
            super().save_model(request, obj, form, change)
            if form.has_changed() or not change:
                self._write(request, obj, "changed" if change else "added", *_typed(form))

    def save_formset(
        self, request: HttpRequest, form: ModelForm, formset: BaseInlineFormSet, change: bool
    ) -> None:
        with transaction.atomic():
            for deleted in formset.deleted_forms:
                if deleted.instance.pk:
                    self._write(request, deleted.instance, "removed", _described(deleted.instance), {})
            changed = [line for line in formset.initial_forms if line.has_changed()]
            changed = [line for line in changed if line not in formset.deleted_forms]
            formset.save()
            for line in changed:
                self._write(request, line.instance, "changed", *_typed(line))
            for row in formset.new_objects:
                self._write(request, row, "added", {}, _described(row))

    def delete_model(self, request: HttpRequest, obj: Any) -> None:
        with transaction.atomic():
            self._write(request, obj, "removed", _described(obj), {})
            super().delete_model(request, obj)

    def delete_queryset(self, request: HttpRequest, queryset: models.QuerySet[Any]) -> None:
        with transaction.atomic():
            for row in queryset:
                self._write(request, row, "removed", _described(row), {})
            super().delete_queryset(request, queryset)

    def change_rows(self, request: HttpRequest, rows: Iterable[models.Model], name: str, value: Any) -> int:
        """For list actions: set one field of rows, each written down; how many did not have it yet."""
        count = 0
        with transaction.atomic():
            for row in rows:
                before = getattr(row, name)
                if before != value:
                    setattr(row, name, value)
                    row.save(update_fields=[name])
                    self._write(request, row, "changed", {name: before}, {name: value})
                    count += 1
        return count

    def _write(
        self,
        request: HttpRequest,
        row: models.Model,
        verb: str,
        before: dict[str, Any],
        after: dict[str, Any],
    ) -> None:
        at: datetime = request.now  # type: ignore[attr-defined]
        by = Actor(account=request.user if isinstance(request.user, Account) else None)
        record(verb, row, by=by, at=at, before=before, after=after, why=WHERE)
        if self.planner_reads:
            mark_out_of_date()


def _typed(form: BaseForm) -> tuple[dict[str, Any], dict[str, Any]]:
    """What was typed into a form anew, before and after."""
    names = [name for name in form.changed_data if name in form.cleaned_data]
    before = {name: _word(form, name, form.initial.get(name)) for name in names if name in form.initial}
    return before, {name: _word(form, name, form.cleaned_data[name]) for name in names}


def _word(form: BaseForm, name: str, value: Any) -> Any:
    """A row, or rows, by name, as initial values are bare keys."""
    field = form.fields[name]
    queryset = getattr(field, "queryset", None)
    if queryset is None or value is None:
        return value
    if isinstance(field, ModelMultipleChoiceField):
        return sorted(str(row) for row in value)
    return str(value if isinstance(value, models.Model) else queryset.model.objects.filter(pk=value).first())


def _described(row: models.Model) -> dict[str, Any]:
    return {field.name: getattr(row, field.name) for field in row._meta.concrete_fields if field.editable}
