"""A person at a tablet in a real browser: finds the form that the page shows, fills it, presses it.

It has the interface of the tablets in ``jobs.practice``, so that the same player plays the job.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Locator, Page, Response, expect
from typing_extensions import override

from jobs.practice.tablet import Hand, Refusal, Reply
from jobs.steps import STEPS

DOOR = "/entries/"
BAND = ".hv strong"
# The page of each act that belongs to no step of its own.
PROVING = next(step.slug for step in STEPS if step.prove is not None)


def reply_of(response: Response) -> Reply:
    """Read what the door answered."""
    (answer,) = response.json()["answers"]
    reasons = (
        Refusal(point["code"], point["item"], point["qualifier"], point["text"])
        for point in answer.get("reasons", ())
    )
    return Reply(
        response.status,
        answer["verdict"],
        tuple(reasons),
        answer.get("seq", 0),
        answer.get("head", ""),
        answer.get("tries_left"),
    )


def selector_of(entry: dict[str, Any]) -> str:
    """Give the selector of the form for an entry; collections have one form for all."""
    value, kind = entry["value"], entry["kind"]
    marks = {
        "value": ("item", entry["item"]),
        "strike": ("target", value),
        "hold": ("hold", value),
        "sign": ("outcome", value),
        "proof": ("round", value),
    }
    if kind not in marks:
        return f'form[data-kind="{kind}"]'
    name, found = marks[kind]
    named = found["key" if name == "target" else name] if isinstance(found, dict) else found
    return f'form[data-kind="{kind}"][data-{name}="{named}"]'


def slug_of(entry: dict[str, Any], here: str) -> str:
    """Name the step on whose page the entry is made."""
    if entry["kind"] == "value":
        return str(entry["item"]).partition(".")[0]
    if entry["kind"] in {"proof", "revision"}:
        return PROVING
    if entry["kind"] == "close":
        return STEPS[-1].slug
    value = entry["value"]
    return str(value.get("step", here))


def unfold(form: Locator) -> None:
    """Open what the form is folded into, as a finger does."""
    fold = form.locator("xpath=ancestor::details[not(@open)]")
    while fold.count():
        fold.first.locator("> summary").click()


def enter_parts(form: Locator, qualifier: str) -> None:
    """Choose which one of a collection, where the form asks."""
    for part in filter(None, qualifier.split(";")):
        name, _, chosen = part.partition("=")
        box = form.locator(f'[data-part="{name}"]')
        if not box.count():
            continue
        if box.evaluate("each => each.tagName") == "SELECT":
            box.select_option(chosen)
        else:
            box.fill(chosen)


def type_number(form: Locator, typed: str) -> None:
    """Type a number, and choose what stands before it."""
    number = typed.lstrip("<>")
    form.locator('input[name="value"]').fill(number)
    if number != typed:
        form.locator('select[name="comparator"]').select_option(typed[0])


def type_table(form: Locator, numbers: dict[str, str]) -> None:
    """Type a table row by row."""
    for row, number in numbers.items():
        form.locator(f'[data-row="{row}"]').fill(str(number))


def type_series(form: Locator, rows: list[list[str]]) -> None:
    """Type a series, a line for each sample."""
    form.locator("textarea").fill("\n".join("; ".join(row) for row in rows))


def choose(form: Locator, picked: Any) -> None:
    """Pick from a register."""
    chosen = picked["id"] if isinstance(picked, dict) else picked
    form.locator('select[name="value"]').select_option(chosen)


def type_words(form: Locator, words: str) -> None:
    """Type words."""
    form.locator("textarea").fill(words)


FILL: dict[str, Callable[[Locator, Any], None]] = {
    "reading": type_number,
    "bounded": type_number,
    "table": type_table,
    "series": type_series,
    "equipment": choose,
    "person": choose,
    "spare": choose,
    "text": type_words,
    "personal": type_words,
}
OWN_FIELDS = ("reason", "revision", "received_by")


@dataclass
class BrowserTablet(Hand):
    """A tablet in a browser at which one person is signed on.

    ``bands`` collects what the high-voltage band said, each change once.
    """

    page: Page
    job: str
    person: str
    pin: str = field(repr=False)
    bands: list[str] = field(default_factory=list)
    unlocked: int = 0

    def sign_on(self) -> None:
        """Sign on: a tile, then the PIN."""
        self.page.goto("/shop/sign-on/")
        self.page.locator(f'.tile[href*="{self.person}"]').click()
        self.page.locator('input[name="pin"]').fill(self.pin)
        self.page.locator("main form button[type=submit]").click()
        expect(self.page.locator(".signed-on")).to_be_visible()

    def here(self) -> str:
        """Name the step whose page is shown."""
        return self.page.url.rstrip("/").rpartition("/")[2]

    def show(self, slug: str) -> None:
        """Go to a step's page, unless it is shown."""
        address = f"/jobs/{self.job}/{slug}/"
        if address not in self.page.url:
            self.page.goto(address)
        if "/sign-on/" in self.page.url:
            self.sign_on()
            self.page.goto(address)

    def look_again(self) -> None:
        """Load the page anew: somebody at another tablet has gone on meanwhile."""
        slug = self.here()
        self.page.goto("/jobs/")
        self.show(slug)

    def form(self, entry: dict[str, Any], page: Page) -> Locator:
        """Find the form for an entry: that of its qualifier, or the one that asks for it."""
        forms = page.locator(selector_of(entry))
        if entry["kind"] != "value":
            return forms.first
        own = page.locator(f'{selector_of(entry)}[data-qualifier="{entry["qualifier"]}"]')
        return own.first if own.count() else forms.first

    def fill(self, form: Locator, entry: dict[str, Any]) -> None:
        """Fill a form in, as far as it asks."""
        shape, value = form.get_attribute("data-entry") or "", entry["value"]
        enter_parts(form, entry["qualifier"])
        if shape in FILL:
            FILL[shape](form, value)
        for name in OWN_FIELDS if isinstance(value, dict) else ():
            if name in value and form.locator(f'[name="{name}"]').count():
                box = form.locator(f'[name="{name}"]')
                box.select_option(value[name]) if name == "revision" else box.fill(value[name])
        if form.locator('[name="pin"]').count():
            form.locator('[name="person"]').select_option(entry["person"] or self.person)
            form.locator('[name="pin"]').fill(entry["pin"])

    def press(self, entry: dict[str, Any], page: Page | None = None) -> Reply:
        """Fill the form for an entry in and press its button; give the answer."""
        page = page or self.page
        form = self.form(entry, page)
        unfold(form)
        self.fill(form, entry)
        button = form.locator("button[type=submit]")
        if form.get_attribute("data-entry") == "choice":
            button = form.locator(f'button[value="{entry["value"]}"]')
        with page.expect_response(lambda answer: answer.url.endswith(DOOR)) as heard:
            button.click()
        return reply_of(heard.value)

    def unlock(self) -> Reply:
        """Type the PIN that is asked for after a pause; what was typed is sent again."""
        self.unlocked += 1
        form = self.page.locator("form.unlock")
        form.locator('[name="pin"]').fill(self.pin)
        with self.page.expect_response(lambda answer: answer.url.endswith(DOOR)) as heard:
            form.locator("button").click()
        return reply_of(heard.value)

    @override
    def post(self, entry: dict[str, Any]) -> Reply:
        self.show(slug_of(entry, self.here()))
        if not self.form(entry, self.page).count():
            self.look_again()
        reply = self.press(entry)
        if reply.verdict == "auth":
            reply = self.unlock()
        if reply.verdict == "applied":
            self.page.locator(f'[data-head="{reply.head}"]').wait_for(state="attached")
            self.watch()
        return reply

    def watch(self) -> None:
        """Note what the band says now, where that is something else than before."""
        said = self.page.locator(BAND).inner_text().partition(",")[0]
        if said not in self.bands[-1:]:
            self.bands.append(said)
