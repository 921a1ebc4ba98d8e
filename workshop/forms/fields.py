"""Kinds of field that several register forms share, and how a form is parted into groups."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import IO, Any, ClassVar, Final

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.forms import BoundField
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from typing_extensions import override

from workshop import languages, pins
from workshop.errors import Refused
from workshop.typed_numbers import read_number

FIRST_DAY: Final = date(1990, 1, 1)
LAST_DAY: Final = date(2199, 12, 31)

Words = str | Promise


def put_refusal(form: forms.BaseForm, refused: Refused) -> None:
    """Put what an action refused on the field that it names."""
    form.add_error(refused.field if refused.field in form.fields else None, str(refused))


@dataclass(frozen=True, slots=True)
class Group:
    """Fields that belong together, under one heading."""

    title: Words
    fields: tuple[BoundField, ...]


class GroupedForm(forms.Form):
    """A form whose fields are shown in groups; what no group names comes first."""

    GROUPS: ClassVar[tuple[tuple[Words, tuple[str, ...]], ...]] = ()

    def groups(self) -> tuple[Group, ...]:
        """Give the groups that have a field, in order."""
        return tuple(group for group in self._groups() if group.fields)

    def parted(self) -> tuple[tuple[Words, tuple[str, ...]], ...]:
        """Give the headings with the names of the fields under each."""
        return self.GROUPS

    def _groups(self) -> Iterator[Group]:
        named = {name for _, names in self.parted() for name in names}
        visible = {field.name: field for field in self.visible_fields()}
        yield Group("", tuple(field for name, field in visible.items() if name not in named))
        for title, names in self.parted():
            yield Group(title, tuple(visible[name] for name in names if name in visible))


class DayField(forms.DateField):
    """A day within reason, entered with the browser's own calendar."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")

    def __init__(self, **options: Any) -> None:
        why = _("Enter a day between 1990 and 2199.")
        limits = [MinValueValidator(FIRST_DAY, why), MaxValueValidator(LAST_DAY, why)]
        super().__init__(input_formats=["%Y-%m-%d"], validators=limits, **options)


class NumberField(forms.CharField):
    """A number with its unit, typed with a comma or a point."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def __init__(self, *, unit: str = "", **options: Any) -> None:
        self.unit = unit
        super().__init__(max_length=40, **options)

    @override
    def clean(self, value: Any) -> Any:
        """Give the number, or None where nothing was typed."""
        typed = super().clean(value)
        try:
            return read_number(typed, is_ohm=self.unit.startswith("Ω")) if typed else None
        except ValueError:
            raise forms.ValidationError(self._how_to_type(), code="number") from None

    def _how_to_type(self) -> str:
        said = gettext("Type digits, with one comma or point and no grouping, such as 0.5.")
        in_unit = gettext(
            "Type digits in {unit}, with one comma or point and no grouping, such as 0.5."
        )
        return in_unit.format(unit=self.unit) if self.unit else said


class NumbersField(NumberField):
    """Several numbers with one unit, parted by semicolons or spaces."""

    @override
    def clean(self, value: Any) -> Any:
        """Give the list of numbers."""
        typed = forms.CharField.clean(self, value)
        return [super(NumbersField, self).clean(each) for each in typed.replace(";", " ").split()]


class LanguageField(forms.ChoiceField):
    """One of the languages that there is; where it may be empty, the shop's counts."""

    def __init__(self, *, shops: bool = True, **options: Any) -> None:
        def offered() -> list[tuple[str, str]]:
            none = [("", gettext("as the workshop"))] if shops else []
            return [*none, *languages.choices()]

        super().__init__(choices=offered, required=False, **options)


class PinField(forms.CharField):
    """A PIN; never printed back."""

    def __init__(self, **options: Any) -> None:
        pad = {"inputmode": "numeric", "autocomplete": "off", "maxlength": pins.LONGEST}
        super().__init__(widget=forms.PasswordInput(attrs=pad), strip=True, **options)


class CertificateField(forms.FileField):
    """A certificate as a file; what it is, is judged by its content where it is kept."""

    def __init__(self, **options: Any) -> None:
        takes = {"accept": "application/pdf,image/jpeg,image/png"}
        options.setdefault("label", _("Certificate as a file"))
        options.setdefault("help_text", _("PDF, JPEG or PNG, at most 10 MB."))
        super().__init__(
            required=False, allow_empty_file=True, widget=forms.FileInput(attrs=takes), **options
        )


def bytes_of(file: IO[bytes] | None, most: int) -> bytes | None:
    """Read a file that was sent, one byte past the most that is taken; None without one."""
    return None if file is None else file.read(most + 1)


def initial_of(details: Any, names: Mapping[str, Any]) -> dict[str, Any]:
    """Give the values that a form starts with, taken from stored data by name."""
    return {name: getattr(details, name) for name in names if hasattr(details, name)}


def number_text(value: float) -> str:
    """Write a number as it is typed into a field."""
    return f"{value:.10f}".rstrip("0").rstrip(".") if value % 1 else f"{value:.0f}"
