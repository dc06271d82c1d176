"""Photos as they are sent, and what is said of them."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop

from jobs.forms.bench import TapForm
from jobs.pictures import MOST_BYTES, TOO_LARGE, NotAPicture, Picture, clean

# What pictures.py says, for the translations.
gettext_noop("That file is empty.")
gettext_noop("That file is too large: a photo may have up to 25 MB.")
gettext_noop("That is no photo that can be kept: send a JPEG, PNG or WebP.")
gettext_noop("That photo is not whole, or is broken. Take it again.")
gettext_noop("That picture has too many pixels. Take it smaller.")
gettext_noop("That picture moves. Send one that stands still.")


class PictureField(forms.FileField):
    """A file as a Picture that is harmless; what it was called and said to be is of no account."""

    def __init__(self, *, camera: bool = False, **options: Any) -> None:
        attrs = {"accept": "image/*"} | ({"capture": "environment"} if camera else {})
        shown: dict[str, Any] = {
            "widget": forms.FileInput(attrs=attrs),
            "allow_empty_file": True,
            "error_messages": {"required": _("Take a photo first."), "missing": _("Take a photo first.")},
        }
        super().__init__(**shown | options)

    def clean(self, data: Any, initial: Any = None) -> Picture:
        sent = super().clean(data, initial)
        assert isinstance(sent, UploadedFile)  # It is required.
        if (sent.size or 0) > MOST_BYTES:
            raise forms.ValidationError(_(TOO_LARGE))
        try:
            return clean(sent.read())
        except NotAPicture as error:
            raise forms.ValidationError(_(str(error))) from error


class PhotoForm(TapForm):
    """A photo from the office: a file that is chosen, or the camera of a phone."""

    file = PictureField(label=_("Photo"))
    caption = forms.CharField(label=_("What it shows"), required=False, max_length=120)


class BenchPhotoForm(PhotoForm):
    """A photo at a bench: by the camera of the tablet."""

    file = PictureField(label=_("Photo"), camera=True)


class CaptionForm(TapForm):
    caption = forms.CharField(label=_("What it shows"), required=False, max_length=120)
