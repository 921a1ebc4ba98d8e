"""A template engine that lets no template ask the database while it renders.

A page is to be shown from what its view has read before; where a template reads on by itself, each
row of a list costs a query.
"""

from collections.abc import Callable
from typing import Any

from django.db import connection
from django.http import HttpRequest
from django.template.backends.django import DjangoTemplates, Template
from django.utils.safestring import SafeString
from typing_extensions import override

BACKEND = f"{__name__}.ClosedDatabase"


class AskedWhileRenderingError(AssertionError):
    """A template asked the database."""


def refuse(execute: Callable[..., Any], sql: str, *_rest: Any) -> Any:
    del execute
    raise AskedWhileRenderingError(sql)


class ClosedTemplate(Template):
    """A template that renders without a database."""

    @override
    def render(
        self, context: dict[str, Any] | None = None, request: HttpRequest | None = None
    ) -> SafeString:
        with connection.execute_wrapper(refuse):
            return SafeString(super().render(context, request))


class ClosedDatabase(DjangoTemplates):
    """Django's own engine; only rendering is closed."""

    @override
    def get_template(self, template_name: str) -> ClosedTemplate:
        return ClosedTemplate(self.engine.get_template(template_name), self)
