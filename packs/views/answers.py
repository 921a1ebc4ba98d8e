"""What the pages of this app share: forms as sent."""

from typing import TypeVar

from django import forms
from django.http import HttpRequest

Form = TypeVar("Form", bound=forms.Form)


def sent(request: HttpRequest, make: type[Form]) -> Form:
    """Make a form, filled with what was sent if anything was."""
    return make(request.POST, request.FILES) if request.method == "POST" else make()
