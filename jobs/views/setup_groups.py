"""Set-up: groups of the studio's own, which may more than a role."""

from django.contrib import messages
from django.contrib.auth.models import Group
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from jobs.actions import groups
from jobs.forms.groups import GroupForm
from jobs.models import Event, May, Role
from jobs.models.permissions import STANDARD, granted_to, own_groups
from jobs.views.access import accounts_only
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out

CHANGES = 20


@require_http_methods(["GET", "POST"])
@accounts_only
def group_list(request: StudioRequest) -> HttpResponse:
    form = GroupForm(request.POST if request.method == "POST" else None)

    def make() -> None:
        groups.make_group(**form.cleaned_data, by=request.actor, at=request.now)

    if request.method == "POST" and carried_out(form, make):
        messages.success(
            request, f"There is a group {form.cleaned_data['name']} now; accounts are put in it."
        )
        return redirect("set-up-groups")
    context = {
        "roles": [(role, [may.label for may in May if may in STANDARD[role]]) for role in Role],
        "own": [
            (
                group,
                [may.label for may in May if may in granted_to(group)],
                group.user_set.order_by("username"),
            )
            for group in own_groups()
        ],
        "form": form,
        "changes": Event.objects.filter(subject="group").select_related("account")[:CHANGES],
    }
    return render(request, "setup/groups.html", context, status=422 if form.is_bound else 200)


@require_http_methods(["GET", "POST"])
@accounts_only
def group_page(request: StudioRequest, pk: int) -> HttpResponse:
    group = get_object_or_404(own_groups(), pk=pk)
    initial = {"name": group.name, "may": sorted(granted_to(group))}
    form = GroupForm(request.POST if request.method == "POST" else None, initial=initial)

    def change() -> None:
        groups.change_group(group, **form.cleaned_data, by=request.actor, at=request.now)

    if request.method == "POST" and carried_out(form, change):
        messages.success(request, "Saved.")
        return redirect("set-up-groups")
    context = {"group": group, "form": form, "members": group.user_set.order_by("username")}
    return render(request, "setup/group.html", context, status=422 if form.is_bound else 200)


@require_POST
@accounts_only
def group_remove(request: StudioRequest, pk: int) -> HttpResponse:
    group: Group = get_object_or_404(own_groups(), pk=pk)
    groups.remove_group(group, by=request.actor, at=request.now)
    messages.success(request, f"The group {group.name} is gone.")
    return redirect("set-up-groups")
