"""The forms of a job's desk: each sends itself through its action and keeps what was typed."""

import uuid
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, ClassVar, Final

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from typing_extensions import override

from jobs.actions import desk as acts
from jobs.core import desk
from jobs.core.desk import Desk
from jobs.core.reason import Blocker
from jobs.queries.records import JobInfo
from workshop.forms import DayField
from workshop.people import MANAGER, TECHNICIAN, PersonInfo

__all__ = [
    "FORMS",
    "AskForm",
    "AssignForm",
    "CallForm",
    "DeskForm",
    "FactsFields",
    "FactsForm",
    "MoveForm",
    "NoteForm",
    "PromiseForm",
    "people_choices",
]

SHORT: Final = acts.SHORT_LIMIT
LONG: Final = acts.WORDS_LIMIT


def _choices(titles: Mapping[str, str], none: str = "") -> list[tuple[str, str]]:
    empty = [("", none)] if none else []
    return [*empty, *((code, gettext(title)) for code, title in titles.items())]


def people_choices(people: Iterable[PersonInfo]) -> list[tuple[str, str]]:
    """Give who may be assigned: technicians and managers, and nobody."""
    able = (each for each in people if each.role in {TECHNICIAN, MANAGER})
    return [("", gettext("nobody yet")), *((each.id, each.short_name) for each in able)]


def _offer(form: forms.Form, name: str, choices: list[tuple[str, str]]) -> None:
    field = form.fields[name]
    if isinstance(field, forms.ChoiceField):
        field.choices = choices


def _words(label: Any, most: int = SHORT, **more: Any) -> forms.CharField:
    widget = forms.TextInput(attrs={"autocomplete": "off"})
    return forms.CharField(label=label, required=False, max_length=most, widget=widget, **more)


def _text(label: Any, **more: Any) -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": 2})
    return forms.CharField(label=label, max_length=LONG, widget=widget, **more)


class FactsFields(forms.Form):
    """Who pays, insurer, claim, recall and warranty of a job."""

    payer = forms.ChoiceField(label=_("Who pays"), required=False)
    insurer = _words(_("Insurer"))
    claim = _words(_("Claim number"))
    warranty = forms.ChoiceField(label=_("Warranty"), required=False)
    recall = _words(_("Recall reference"))

    FACTS: ClassVar = ("payer", "insurer", "claim", "warranty", "recall")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        _offer(self, "payer", _choices(desk.PAYERS, gettext("not known yet")))
        _offer(self, "warranty", _choices(desk.WARRANTIES, gettext("not known yet")))

    def facts(self) -> dict[str, str]:
        """Give the facts as typed."""
        return {name: str(self.cleaned_data[name]) for name in self.FACTS}


class DeskForm(forms.Form):
    """A form of the desk: it knows the job, starts with what is known, and sends itself."""

    key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(
        self,
        data: Any = None,
        *,
        job: JobInfo,
        state: Desk,
        people: Iterable[PersonInfo] = (),
        **options: Any,
    ) -> None:
        self.job, self.state, self.people = job, state, tuple(people)
        super().__init__(data, initial={"key": uuid.uuid4(), **self.first()}, **options)
        self.offer()

    def first(self) -> dict[str, Any]:
        """Give what the fields start with."""
        return {}

    def offer(self) -> None:
        """Fill in what may be chosen."""

    def send(self, by: str, now: datetime) -> None:
        """Write what was entered; raises what the action refuses."""
        raise NotImplementedError

    def refuse(self, blocker: Blocker, sentence: str) -> None:
        """Show a refusal at its field; above the form where it belongs to none."""
        self.add_error(blocker.item if blocker.item in self.fields else None, sentence)

    def sent(self, by: str, now: datetime) -> dict[str, Any]:
        """Give what every action takes."""
        key = str(self.cleaned_data["key"])
        return {"job_id": self.job.id, "key": key, "by": by, "now": now}


class FactsForm(DeskForm, FactsFields):
    """The facts of a job, changed later."""

    @override
    def first(self) -> dict[str, Any]:
        return {name: getattr(self.state, name) for name in self.FACTS}

    @override
    def send(self, by: str, now: datetime) -> None:
        acts.set_facts(facts=self.facts(), **self.sent(by, now))


class MoveForm(DeskForm):
    """Where the vehicle stands and its keys hang."""

    place = forms.ChoiceField(
        label=_("The vehicle stands"), required=False, widget=forms.RadioSelect
    )
    spot = _words(_("More closely"), help_text=_("Such as bay 2, or row 3 by the fence."))
    hook = _words(_("Hook or number of its keys"))

    @override
    def first(self) -> dict[str, Any]:
        return {"place": self.state.place, "spot": self.state.spot, "hook": self.state.hook}

    @override
    def offer(self) -> None:
        _offer(self, "place", _choices(desk.PLACES))

    @override
    def send(self, by: str, now: datetime) -> None:
        where = {name: str(self.cleaned_data[name]) for name in self.fields if name != "key"}
        acts.move(where=where, **self.sent(by, now))


class AssignForm(DeskForm):
    """Whose job it is."""

    person = forms.ChoiceField(label=_("Assigned to"), required=False)

    @override
    def first(self) -> dict[str, Any]:
        return {"person": self.state.assigned}

    @override
    def offer(self) -> None:
        _offer(self, "person", people_choices(self.people))

    @override
    def send(self, by: str, now: datetime) -> None:
        acts.assign(person_id=str(self.cleaned_data["person"]), **self.sent(by, now))


class PromiseForm(DeskForm):
    """The promised day, moved."""

    promised_on = DayField(
        label=_("Promised for"), required=False, help_text=_("Empty: it cannot be said yet.")
    )
    why = forms.ChoiceField(label=_("Why it moves"), required=False)
    told = forms.ChoiceField(
        label=_("Was the customer told?"),
        choices=(("yes", _("yes")), ("no", _("not yet: Today shows it under To call"))),
        widget=forms.RadioSelect,
    )
    note = _words(_("In more words"), LONG)

    @override
    def first(self) -> dict[str, Any]:
        return {"promised_on": self.job.promised_on}

    @override
    def offer(self) -> None:
        _offer(self, "why", _choices(desk.PROMISE_REASONS, gettext("choose")))

    @override
    def send(self, by: str, now: datetime) -> None:
        data = self.cleaned_data
        new = acts.Promise(
            promised_on=data["promised_on"], why=data["why"], told=data["told"], note=data["note"]
        )
        acts.move_promise(new=new, **self.sent(by, now))


class CallForm(DeskForm):
    """A call with the customer, and the next one."""

    way = forms.ChoiceField(label=_("Who called"), widget=forms.RadioSelect)
    text = _text(_("What was said"))
    told = forms.BooleanField(label=_("The new promised day was told"), required=False)
    next_on = DayField(label=_("Next call due"), required=False)
    next_about = _words(_("About what"), 2 * SHORT)

    @override
    def offer(self) -> None:
        _offer(self, "way", _choices(desk.CALLS))
        if self.state.untold is None:
            del self.fields["told"]

    @override
    def send(self, by: str, now: datetime) -> None:
        data = self.cleaned_data
        call = acts.Call(
            way=data["way"],
            text=data["text"],
            next_on=data["next_on"],
            next_about=data["next_about"],
            told=bool(data.get("told")),
        )
        acts.log_call(call=call, **self.sent(by, now))


class AskForm(DeskForm):
    """What the customer asks."""

    KIND: ClassVar = desk.ASKED
    text = _text(_("What the customer asks"))

    @override
    def send(self, by: str, now: datetime) -> None:
        acts.write_note(kind=self.KIND, text=self.cleaned_data["text"], **self.sent(by, now))


class NoteForm(AskForm):
    """What the next shift has to know of this job."""

    KIND: ClassVar = desk.NOTE
    text = _text(_("For the next shift, about this job"))


FORMS: Final[Mapping[str, type[DeskForm]]] = {
    "move": MoveForm,
    "assign": AssignForm,
    "promise": PromiseForm,
    "facts": FactsForm,
    "call": CallForm,
    "ask": AskForm,
    "note": NoteForm,
}
"""The forms of a job's desk by the last part of their address."""
