"""What is tapped on the drawing of a panel: some of its pieces, by their numbers."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from jobs.estimating.pieces import parse_numbers
from jobs.forms.bench import TapForm

LONGEST = 2000  # Of the numbers as they are typed; a tablet sends more than that in several taps.


class NumbersField(forms.CharField):
    """Numbers of pieces, such as 3, 7-9."""

    def to_python(self, value: Any) -> list[int]:  # type: ignore[override]
        text = super().to_python(value)
        if not text:
            return []
        try:
            return parse_numbers(text)
        except ValueError as error:
            raise ValidationError(_("Write the numbers of the pieces, such as 3, 7-9.")) from error


class TickedField(forms.Field):
    """Numbers of pieces, each ticked in a list."""

    widget = forms.SelectMultiple

    def to_python(self, value: Any) -> list[int]:
        ticked = [value] if isinstance(value, str) else value or []
        try:
            return parse_numbers(",".join(ticked)) if ticked else []
        except ValueError as error:
            raise ValidationError(_("That is not a piece of this panel.")) from error


class DrawnForm(TapForm):
    """Pieces of one copy: `pieces`, their numbers as text, or `piece`, ticked. `numbers` are both together."""

    pattern = forms.IntegerField(min_value=1, max_value=2**63 - 1, widget=forms.HiddenInput)
    copy = forms.IntegerField(min_value=1, max_value=500, widget=forms.HiddenInput)
    pieces = NumbersField(required=False, max_length=LONGEST, widget=forms.HiddenInput)
    piece = TickedField(required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        cleaned["numbers"] = sorted({*cleaned.get("pieces", []), *cleaned.get("piece", [])})
        if not self.errors and not cleaned["numbers"]:
            self.add_error("piece", _("Tick the pieces first."))
        return cleaned


class MarkForm(DrawnForm):
    """Done at `step`, or not done after all."""

    YES, NO = "yes", "no"
    step = forms.CharField(required=False, max_length=40)
    done = forms.ChoiceField(choices=[(YES, YES), (NO, NO)])


class BrokeForm(DrawnForm):
    note = forms.CharField(label=_("How"), required=False, max_length=200)
