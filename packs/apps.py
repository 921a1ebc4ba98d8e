"""The app of packs; at its start it is told who translates and converts what pure code says."""

from typing import Final

from django.apps import AppConfig
from django.utils.module_loading import import_string
from django.utils.translation import gettext
from typing_extensions import override

from packs.words import spoken_by

CONVERTED: Final = "workshop.units.converted"
"""Dotted path of the function that gives a number in the unit that the shop reads."""


class PacksConfig(AppConfig):
    """The app of packs."""

    name = "packs"

    @override
    def ready(self) -> None:
        spoken_by(gettext, import_string(CONVERTED))
