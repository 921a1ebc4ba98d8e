"""What a printed document is made of, as data: headings, tables, boxes, pictures.

Here: the blocks and `Report`, which holds them. Not here: what a document says
(`jobs.report.document`, `jobs.report.quotation`) and how it looks (`jobs.report.pdf`).
"""

from dataclasses import dataclass

from packs.picture import Picture

__all__ = [
    "AnswerLines",
    "Block",
    "Boxes",
    "Bullets",
    "Grid",
    "Heading",
    "NewPage",
    "Paragraph",
    "Parties",
    "Photo",
    "Photos",
    "Pictures",
    "Priced",
    "Proof",
    "ProofRow",
    "Report",
    "Together",
    "Working",
    "WorkingLine",
]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; level 1 is the answer, 2 a part, 3 within a part."""

    text: str
    level: int = 2


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph; `soft` for secondary text."""

    text: str
    soft: bool = False


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list of sentences."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Boxes:
    """Three boxes: question, answer, remark."""

    boxes: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Pictures:
    """Pictures side by side, each with its title."""

    pictures: tuple[Picture, ...]


@dataclass(frozen=True, slots=True)
class ProofRow:
    """One line of proof."""

    label: str
    value: str
    limit: str
    verdict: str


@dataclass(frozen=True, slots=True)
class Proof:
    """Lines of proof, each step's under its title; without limits there is no column for them."""

    parts: tuple[tuple[str, tuple[ProofRow, ...]], ...]
    limits: bool = True


@dataclass(frozen=True, slots=True)
class Grid:
    """A plain table; `shares` of the width by column, all alike where none are given."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Parties:
    """Columns side by side, each a title and its lines."""

    columns: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class Priced:
    """Lines with amounts: number and words, then amounts; the sums under them, the last in bold.

    Without lines only the sums are set.
    """

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    sums: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class AnswerLines:
    """Answers to tick and lines to write on by hand."""

    answers: tuple[str, ...]
    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NewPage:
    """What follows begins a page; unless there is room for so many millimetres, where given."""

    unless_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Together:
    """Blocks that stay on one page where it holds them."""

    blocks: tuple["Block", ...]


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo, made small; without `content` the words say what is the matter with it."""

    content: bytes | None
    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Photos:
    """Photos, six to a page."""

    photos: tuple[Photo, ...]


@dataclass(frozen=True, slots=True)
class WorkingLine:
    """One step of a calculation: what, formula, numbers put in, result."""

    what: str
    formula: str = ""
    numbers: str = ""
    value: str = ""


@dataclass(frozen=True, slots=True)
class Working:
    """A calculation step by step; numbered, a line with only its words is a heading."""

    lines: tuple[WorkingLine, ...]


Block = (
    Heading
    | Paragraph
    | Bullets
    | Boxes
    | Pictures
    | Proof
    | Grid
    | NewPage
    | Parties
    | Priced
    | AnswerLines
    | Together
    | Photos
    | Working
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A report, ready to be drawn, all its words in `language`; `logo` is a PNG or JPEG."""

    title: str
    author: str
    address: str
    number: str
    subject: str
    date: str
    signed: str
    head: str
    language: str
    blocks: tuple[Block, ...]
    logo: bytes | None = None
