"""Tells Django about the workshop app and registers its system checks."""

from django.apps import AppConfig
from typing_extensions import override

from workshop import checks


class WorkshopConfig(AppConfig):
    """The shop's registers and the project itself."""

    name = "workshop"

    @override
    def ready(self) -> None:
        """Register the checks once the apps are loaded."""
        checks.register_all()
