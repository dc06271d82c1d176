"""What is typed about one-time codes."""

from django import forms
from django.utils.translation import gettext_lazy as _


class CodeForm(forms.Form):
    code = forms.CharField(
        label=_("Code"),
        max_length=20,
        widget=forms.TextInput(
            attrs={
                "autocomplete": "one-time-code",
                "autocapitalize": "none",
                "autofocus": True,
                "spellcheck": "false",
            }
        ),
    )


class OwnPasswordForm(forms.Form):
    password = forms.CharField(
        label="Present password",
        max_length=128,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
