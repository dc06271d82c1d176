"""What is typed to sign in and to change one's password."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.utils.translation import gettext_lazy as _


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": _("This name and password do not go together. Capital letters count."),
        "inactive": _("This account has ended. Ask the lead for another."),
    }

    username = forms.CharField(
        label=_("Name"),
        max_length=150,
        widget=forms.TextInput(
            attrs={"autofocus": True, "autocomplete": "username", "autocapitalize": "none"}
        ),
    )


class PasswordForm(PasswordChangeForm):
    error_messages = PasswordChangeForm.error_messages | {
        "password_incorrect": "This is not your present password.",  # nosec B105  # A sentence.
        "password_mismatch": "The two do not agree.",  # nosec B105  # A sentence.
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["old_password"].label = "Present password"
        self.fields["new_password1"].label = "New password"
        self.fields["new_password2"].label = "New password once more"
