"""The app of packs; at its start it is told who translates what pure code says."""

from django.apps import AppConfig
from django.utils.translation import gettext
from typing_extensions import override

from packs.words import spoken_by


class PacksConfig(AppConfig):
    """The app of packs."""

    name = "packs"

    @override
    def ready(self) -> None:
        spoken_by(gettext)
