"""What is typed or tapped at a bench."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop

from jobs.forms.fields import DayField
from jobs.models import Panel, Person

WHOLE = {"inputmode": "numeric", "autocomplete": "off"}
# The usual reasons, one tap each; anything else is typed. They are kept in English and shown in the page's language.
REASONS = (
    gettext_noop("glass missing"),
    gettext_noop("came missing"),
    gettext_noop("question for the lead"),
    gettext_noop("drawing unclear"),
    gettext_noop("other work first"),
)


class TapForm(forms.Form):
    """A tap: `client_id` tells it from every other one."""

    client_id = forms.UUIDField(required=False, widget=forms.HiddenInput)

    def tap_fields(self) -> list[Any]:
        """The fields that are typed into."""
        return self.visible_fields()


class StartForm(TapForm):
    take_over = forms.BooleanField(required=False)


class FinishForm(TapForm):
    """`all_done`: the pieces that are left are done with it."""

    all_done = forms.BooleanField(required=False)


class PiecesForm(TapForm):
    """Either `add`, by a button, or `total`, typed."""

    add = forms.IntegerField(required=False, widget=forms.HiddenInput)
    total = forms.IntegerField(
        label=_("Pieces done in all"),
        required=False,
        min_value=0,
        max_value=1_000_000,
        widget=forms.NumberInput(attrs=WHOLE),
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not self.errors and (cleaned.get("add") is None) == (cleaned.get("total") is None):
            self.add_error("total", _("Type how many pieces are done."))
        return cleaned


class BreakForm(TapForm):
    pieces = forms.IntegerField(
        label=_("Pieces broken"),
        min_value=1,
        max_value=1_000_000,
        initial=1,
        widget=forms.NumberInput(attrs=WHOLE),
        error_messages={
            "required": _("Say how many pieces broke."),
            "min_value": _("Say how many pieces broke."),
        },
    )
    note = forms.CharField(label=_("Which, or how"), required=False, max_length=200)


class HoldForm(TapForm):
    """`quick` is a reason by its button, `reason` one that is typed; what is typed comes first."""

    reason = forms.CharField(label=_("What it waits for"), required=False, max_length=200)
    until = DayField(label=_("Until, if that is known"), required=False)
    quick = forms.CharField(required=False, max_length=200, widget=forms.HiddenInput)

    reasons = REASONS

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        cleaned["reason"] = cleaned.get("reason") or cleaned.get("quick") or ""
        if not self.errors and not cleaned["reason"]:
            self.add_error("reason", _("Say what it waits for."))
        return cleaned


class PersonForm(forms.Form):
    """Who is at the tablet."""

    person = forms.ModelChoiceField(Person.objects.filter(active=True))
    pin = forms.CharField(
        label=_("PIN"),
        required=False,
        max_length=20,
        widget=forms.PasswordInput(attrs=WHOLE | {"autocomplete": "one-time-code"}),
    )


class ScannedForm(forms.Form):
    """The panel whose code was scanned, if one was."""

    panel = forms.ModelChoiceField(Panel.objects.select_related("job").defer("drawing"), required=False)


class AnswerForm(TapForm):
    """When a timer left on really stopped: at the end of the shift, just now, or at a day and time that is typed."""

    END, NOW, TYPED = "end", "now", "typed"
    when = forms.ChoiceField(choices=[(END, END), (NOW, NOW), (TYPED, TYPED)], widget=forms.HiddenInput)
    day = DayField(label=_("Day"), required=False)
    time = forms.TimeField(
        label=_("Stopped at"), required=False, widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"})
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("when") == self.TYPED and not self.errors:
            for name in ("day", "time"):
                if cleaned.get(name) is None:
                    self.add_error(name, _("Say when it stopped."))
        return cleaned
