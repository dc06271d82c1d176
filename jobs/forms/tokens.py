"""What is typed to give another program a token."""

from typing import Any

from django import forms

from jobs.models.api_tokens import Scope


class TokenForm(forms.Form):
    name = forms.CharField(
        max_length=60, label="What uses it", help_text="Such as: the books, the wall screen."
    )
    scope = forms.ChoiceField(choices=Scope.choices, label="It may read", widget=forms.RadioSelect)
    last_day = forms.DateField(
        label="Until the end of",
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text="Two years from now at most.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["scope"].initial = Scope.FLOOR
