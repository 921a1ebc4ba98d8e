"""The tag that prints the import map; it goes into the head before the first script."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from workshop.import_map import import_map_text

register = template.Library()


@register.simple_tag
def import_map() -> SafeString:
    """Print the import map as the page's one inline script."""
    # The text is JSON made from our own file names, with "<" escaped.
    text = mark_safe(import_map_text())  # noqa: S308
    return format_html('<script type="importmap">{}</script>', text)
