"""Photos as they are sent, and what is said of them."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from jobs.forms.bench import TapForm
from jobs.pictures import MOST_BYTES, TOO_LARGE, NotAPicture, Picture, clean


class PictureField(forms.FileField):
    """A file as a Picture that is harmless; what it was called and said to be is of no account."""

    def __init__(self, *, camera: bool = False, **options: Any) -> None:
        attrs = {"accept": "image/*"} | ({"capture": "environment"} if camera else {})
        shown: dict[str, Any] = {
            "widget": forms.FileInput(attrs=attrs),
            "allow_empty_file": True,
            "error_messages": {"required": "Take a photo first.", "missing": "Take a photo first."},
        }
        super().__init__(**shown | options)

    def clean(self, data: Any, initial: Any = None) -> Picture:
        sent = super().clean(data, initial)
        assert isinstance(sent, UploadedFile)  # It is required.
        if (sent.size or 0) > MOST_BYTES:
            raise forms.ValidationError(TOO_LARGE)
        try:
            return clean(sent.read())
        except NotAPicture as error:
            raise forms.ValidationError(str(error)) from error


class PhotoForm(TapForm):
    """A photo from the office: a file that is chosen, or the camera of a phone."""

    file = PictureField(label="Photo")
    caption = forms.CharField(label="What it shows", required=False, max_length=120)


class BenchPhotoForm(PhotoForm):
    """A photo at a bench: by the camera of the tablet."""

    file = PictureField(label="Photo", camera=True)


class CaptionForm(TapForm):
    caption = forms.CharField(label="What it shows", required=False, max_length=120)
