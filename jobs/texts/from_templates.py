"""Texts of the templates, found by Django's own reading of them.

What ``{% translate "…" %}``, ``{% blocktranslate %}`` and ``_("…")`` ask the catalogue for is taken
from the parsed template, so that it is the same to the letter.
"""

import re
from collections.abc import Iterator

from django.template import Engine, engines
from django.template.base import Node, Origin, Template
from django.templatetags.i18n import BlockTranslateNode, TranslateNode

__all__ = ["template_texts"]

_INSIDE = re.compile(r"""\b_\((?:"([^"]*)"|'([^']*)')\)""")
_TAGS = re.compile(r"{%.*?%}|{{.*?}}", re.DOTALL)


def _engine() -> Engine:
    return engines["django"].engine  # type: ignore[attr-defined,no-any-return]


def _of(node: Node) -> tuple[str, str] | None:
    if isinstance(node, BlockTranslateNode):
        singular, _ = node.render_token_list(node.singular)
        plural = node.render_token_list(node.plural)[0] if node.plural else ""
        if node.trimmed:
            singular, plural = _trimmed(singular), _trimmed(plural)
        return singular, plural
    if isinstance(node, TranslateNode):
        said = node.filter_expression.var
        literal = said if isinstance(said, str) else getattr(said, "literal", None)
        return (_doubled(str(literal)), "") if literal is not None else None
    return None


def _doubled(text: str) -> str:
    """Double percent signs, as Django does before it asks the catalogue."""
    return text.replace("%", "%%")


def _trimmed(text: str) -> str:
    return " ".join(line.strip() for line in text.strip().splitlines())


def template_texts(source: str) -> Iterator[tuple[str, str]]:
    """Give the texts of a template, each with its plural or an empty one.

    Examples
    --------
    >>> list(template_texts('{% load i18n %}{% translate "Today" %}<p>Not this</p>'))
    [('Today', '')]
    """
    template = Template(source, Origin("texts"), engine=_engine())
    for node in template.nodelist.get_nodes_by_type(Node):
        found = _of(node)
        if found is not None:
            yield found
    for tag in _TAGS.findall(source):
        for double, single in _INSIDE.findall(tag):
            yield _doubled(double or single), ""
