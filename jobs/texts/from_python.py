"""Texts of the Python source, found in its syntax tree without running it.

A text stands in a call of gettext, in the place where a constructor takes words (`PLACES`,
`WORDS`), or in a table of words (`tables.TABLES`); names are followed to constants of the same
module. In the modules of `tables.WHOLE`, which speak to people without Django, every phrase is a
text: a constant of several words.
"""

import ast
from collections.abc import Iterator, Mapping
from typing import Final, TypeGuard

from jobs.texts.tables import NO_TEXT, TABLES, WHOLE

__all__ = ["python_texts"]

GETTEXT: Final = {"_", "gettext", "gettext_lazy", "gettext_noop", "told", "word"}
PLURALS: Final = {"ngettext", "ngettext_lazy"}
IN_CONTEXT: Final = {"pgettext", "pgettext_lazy"}
CONTEXT_ENDS: Final = "\x04"
"""Between context and text, as in compiled catalogues."""
PLACES: Final[Mapping[str, tuple[int, ...]]] = {
    "Choice": (1,),
    "Fact": (0,),
    "Hold": (1,),
    "Reason": (1,),
    "Said": (0,),
    "SheetSection": (0,),
    "Table": (0, 1),
    "TextLine": (0,),
    "Tool": (0,),
    "allowance_line": (0,),
    "bounded": (1,),
    "budget_lines": (0,),
    "counted": (1, 2),
    "choice": (1,),
    "drawn": (1,),
    "equipment": (1,),
    "grouped": (0,),
    "free_note": (1,),
    "free_photo": (1,),
    "person": (1,),
    "personal": (1,),
    "photo": (1,),
    "quotation": (1,),
    "reading": (1,),
    "series": (1,),
    "signature": (1,),
    "spare": (1,),
    "table": (1,),
    "table_text": (0,),
    "text": (1,),
    "tick": (1,),
}
"""Constructor to the places, counted from 0, of what it takes as words."""
WORDS: Final = {"about", "act", "cautions", "group", "headings", "help", "label", "title"}
"""Names of arguments that are words wherever they are given."""
HEADINGS: Final = {"headings", "heads"}
"""Names that the headings of a table are given before they are handed on."""
EXPLAINED: Final[Mapping[str, frozenset[str]]] = {
    "Component": frozenset({"source"}),
    "Line": frozenset({"what", "value"}),
}
"""Constructor to the names of its arguments that are words; every field of `told` may be."""
WRAPPERS: Final = {"MappingProxyType", "dict", "tuple"}


class _Reader:
    def __init__(self, tree: ast.Module) -> None:
        self.constants = dict(_constants(tree))
        self.calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
        self.headings = [value for name, value in _assigned(tree) if name in HEADINGS]

    def tables(self, names: tuple[str, ...]) -> Iterator[tuple[str, str]]:
        """Give the texts of the tables of these names."""
        for name in names:
            yield from self.words(self.constants[name])

    def named(self) -> Iterator[tuple[str, str]]:
        """Give the headings of tables that have a name before they are handed on."""
        for value in self.headings:
            yield from self.words(value)

    def said(self) -> Iterator[tuple[str, str]]:
        """Give the texts that calls are given as words."""
        for call in self.calls:
            name = _name_of(call)
            if name in PLURALS:
                first, second = (list(self.plain(each)) for each in call.args[:2])
                yield from zip(first, second, strict=True)
            elif name in IN_CONTEXT:
                context, text = (list(self.plain(each)) for each in call.args[:2])
                yield from ((f"{context[0]}{CONTEXT_ENDS}{each}", "") for each in text)
            for place in (0,) if name in GETTEXT else PLACES.get(name, ()):
                for argument in call.args[place : place + 1]:
                    yield from self.words(argument)
            for keyword in call.keywords:
                if keyword.arg in WORDS or keyword.arg in EXPLAINED.get(name, ()) or name == "told":
                    yield from self.words(keyword.value)

    def words(self, node: ast.expr) -> Iterator[tuple[str, str]]:
        """Give the texts of an expression, each with an empty plural."""
        for text in self.plain(node):
            if any(letter.isalpha() for letter in text):
                yield text, ""

    def plain(self, node: ast.expr) -> Iterator[str]:
        """Give what an expression may be: constants, also behind names, in either branch."""
        if isinstance(node, ast.Constant):
            yield from (node.value,) if isinstance(node.value, str) else ()
        elif isinstance(node, ast.Name):
            yield from self.plain(self.constants[node.id]) if node.id in self.constants else ()
        else:
            for part in _parts(node):
                yield from self.plain(part)


def _assigned(tree: ast.Module) -> Iterator[tuple[str, ast.expr]]:
    """Give what is assigned to a name anywhere, alone or beside others."""
    for node in ast.walk(tree):
        match node:
            case ast.Assign(targets=[ast.Name(id=name)], value=value):
                yield name, value
            case ast.Assign(targets=[ast.Tuple(elts=names)], value=ast.Tuple(elts=values)):
                for each, value in zip(names, values, strict=False):
                    if isinstance(each, ast.Name):
                        yield each.id, value
            case _:
                pass


def _name_of(call: ast.Call) -> str:
    function = call.func
    if isinstance(function, ast.Attribute):
        return function.attr
    return function.id if isinstance(function, ast.Name) else ""


def _parts(node: ast.expr) -> list[ast.expr]:
    """Give the expressions one of which a compound expression may be."""
    match node:
        case ast.IfExp(body=first, orelse=second):
            return [first, second]
        case ast.BoolOp(values=parts) | ast.Dict(values=parts):
            return parts
        case ast.Tuple(elts=parts) | ast.List(elts=parts) | ast.Set(elts=parts):
            return parts
        case ast.Subscript(value=table):
            return [table]
        case ast.Call(args=parts) if _name_of(node) in WRAPPERS:
            return parts
    return []


def _is_phrase(value: object) -> TypeGuard[str]:
    if not isinstance(value, str) or " " not in value:
        return False
    return (value[0].isalpha() or value[0] in "{(") and NO_TEXT.search(value) is None


def _phrases(tree: ast.Module) -> Iterator[tuple[str, str]]:
    """Give every constant of several words that is no docstring, piece of a text or plural."""
    pieces: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            pieces |= {id(piece) for piece in node.values}
        elif isinstance(node, ast.Expr):
            pieces.add(id(node.value))
        elif isinstance(node, ast.Call) and _name_of(node) in PLURALS | IN_CONTEXT:
            pieces |= {id(each) for each in node.args}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and id(node) not in pieces:
            yield from ((node.value, ""),) if _is_phrase(node.value) else ()


def _constants(tree: ast.Module) -> Iterator[tuple[str, ast.expr]]:
    for node in tree.body:
        match node:
            case ast.Assign(targets=[ast.Name(id=name)], value=value):
                yield name, value
            case ast.Assign(targets=[ast.Tuple(elts=names)], value=ast.Tuple(elts=values)):
                for each, value in zip(names, values, strict=True):
                    if isinstance(each, ast.Name):
                        yield each.id, value
            case ast.AnnAssign(target=ast.Name(id=name), value=ast.expr() as value):
                yield name, value
            case _:
                pass


def python_texts(place: str, source: str) -> Iterator[tuple[str, str]]:
    r"""Give the texts of a module, each with its plural or an empty one.

    Parameters
    ----------
    place : str
        Path of the module in the project; `TABLES` names its tables of words by it.
    source : str
        Its text.

    Raises
    ------
    KeyError
        Where a table of words that `TABLES` names is not there.

    Examples
    --------
    >>> list(python_texts("a.py", 'WAIT = Reason("wait", "Wait until {until_at}.")'))
    [('Wait until {until_at}.', '')]
    >>> list(python_texts("a.py", 'pgettext("month", "May")'))
    [('month\x04May', '')]
    """
    tree = ast.parse(source)
    reader = _Reader(tree)
    yield from reader.tables(TABLES.get(place, ()))
    yield from reader.said()
    yield from reader.named()
    if place.startswith(WHOLE):
        yield from _phrases(tree)
