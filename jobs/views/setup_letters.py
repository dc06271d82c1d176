"""Set-up: what letters say, and how loads are reckoned."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from jobs.actions.letter_settings import FIELDS, change_letter_settings
from jobs.forms.letters import LetterSettingsForm
from jobs.models import LetterSettings
from jobs.views.access import set_up_only
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out


@require_http_methods(["GET", "POST"])
@set_up_only
def letter_settings(request: StudioRequest) -> HttpResponse:
    row = LetterSettings.current()
    typed = request.POST if request.method == "POST" else None
    start = {name: getattr(row, name) for name in FIELDS}
    form = LetterSettingsForm(typed, initial=start, studio=request.studio)
    if typed is None:
        return render(request, "setup/letters.html", {"form": form})
    if not carried_out(
        form, lambda: change_letter_settings(form.cleaned_data, by=request.actor, at=request.now)
    ):
        return render(request, "setup/letters.html", {"form": form}, status=422)
    messages.success(request, "Saved.")
    return redirect("set-up-letters")
