"""A person at a tablet in a real browser: finds the form that the page shows, fills it, presses it.

It has the interface of the tablets in ``jobs.practice``, so that the same player plays the job.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import APIResponse, Locator, Page, Response, expect
from typing_extensions import override

from jobs.core.drawn import HEIGHT, WIDTH
from jobs.practice.scene import Scene
from jobs.practice.tablet import Hand, Refusal, Reply
from jobs.steps import STEPS
from workshop.kept_files import path_of

DOOR = "/entries/"
BAND = ".hv strong"
RECORDED = 3
"""Rows of a series that are recorded one by one before the rest is pasted."""
# The page of each act that belongs to no step of its own.
PROVING = next(step.slug for step in STEPS if step.prove is not None)


def reply_of(response: Response | APIResponse) -> Reply:
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


def sign_on(page: Page, name: str, pin: str) -> None:
    """Sign on as somebody: the tile, then the PIN."""
    page.goto("/shop/sign-on/")
    page.locator(".tile", has_text=name).click()
    page.get_by_label("PIN").fill(pin)
    page.get_by_role("button", name="Sign on").click()
    expect(page.locator(".signed-on")).to_contain_text(name)


def stored(scene: Scene) -> int:
    """Count the entries that the record of a job holds, read anew."""
    scene.head, scene.kept = "", None
    return len(scene.record().entries)


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
        form.locator(f'[data-compare="{typed[0]}"]').click()


def type_table(form: Locator, numbers: dict[str, str]) -> None:
    """Type a table row by row."""
    for row, number in numbers.items():
        form.locator(f'[data-row="{row}"]').fill(str(number))


def type_series(form: Locator, rows: list[list[str]]) -> None:
    """Record the first rows one after another where the page does, and paste the rest."""
    by_hand = rows[:RECORDED] if form.locator("[data-series]").count() else []
    folded = form.locator("details.recorder-rows:not([open]) > summary")
    if folded.count():
        folded.click()
    for seconds, value in by_hand:
        form.locator('[name="add_t"]').fill(seconds)
        form.locator('[name="add_value"]').fill(value)
        form.locator('[name="add_value"]').press("Enter")
    lines = form.locator("textarea")
    recorded = lines.input_value()
    assert recorded.count("\n") == len(by_hand)
    lines.fill(recorded + "\n".join("; ".join(row) for row in rows[len(by_hand) :]))


def type_sample(form: Locator, sample: dict[str, str]) -> None:
    """Type one sample; its seconds are those of the page's clock where none are given."""
    for name, typed in sample.items():
        form.locator(f'[name="{name}"]').fill(typed)


CHOSEN = {"kind", "payer", "optional"}
"""Cells of a quotation's line that are chosen, not typed."""


def type_quotation(form: Locator, quotation: dict[str, Any]) -> None:
    """Take the lines away that are there, and write others."""
    while form.locator('[data-quote="remove"]').count():
        form.locator('[data-quote="remove"]').first.click()
    for line in quotation["lines"]:
        form.locator('[data-quote="add"]').click()
        row = form.locator("[data-rows] > *").last
        for name, typed in line.items():
            cell = row.locator(f'[data-cell="{name}"]')
            if name in CHOSEN:
                cell.select_option({True: "yes", False: ""}.get(typed, typed))
            else:
                cell.fill(typed)
    for name in ("valid_until", "not_included", "notes"):
        if name in quotation:
            form.locator(f'[data-field="{name}"]').fill(quotation[name])


def type_bolt(form: Locator, values: dict[str, Any]) -> None:
    """Type the value of one bolt, choosing it where it is not its turn."""
    ((bolt, typed),) = values.items()
    if form.locator('[name="bolt"]').input_value() != bolt:
        form.locator(".torque-others > summary").click()
        form.locator(f'[data-bolt="{bolt}"]').click()
    form.locator('input[name="value"]').fill(str(typed))


def choose(form: Locator, picked: Any) -> None:
    """Pick from a register."""
    chosen = picked["id"] if isinstance(picked, dict) else picked
    form.locator('select[name="value"]').select_option(chosen)


def type_words(form: Locator, words: str) -> None:
    """Type words."""
    form.locator("textarea").fill(words)


def sign_in_the_field(form: Locator, signed: dict[str, Any]) -> None:
    """Write the name and draw the strokes with the pen."""
    form.locator('input[name="name"]').fill(signed["name"])
    field, mouse = form.locator("canvas"), form.page.mouse
    field.scroll_into_view_if_needed()
    box = field.bounding_box()
    assert box is not None
    for stroke in signed["strokes"]:
        places = [
            (box["x"] + x / WIDTH * box["width"], box["y"] + y / HEIGHT * box["height"])
            for x, y in stroke[::6]
        ]
        mouse.move(*places[0])
        mouse.down()
        for place in places[1:]:
            mouse.move(*place)
        mouse.up()


FILL: dict[str, Callable[[Locator, Any], None]] = {
    "reading": type_number,
    "bounded": type_number,
    "table": type_table,
    "series": type_series,
    "sample": type_sample,
    "torque": type_bolt,
    "quotation": type_quotation,
    "equipment": choose,
    "person": choose,
    "spare": choose,
    "text": type_words,
    "personal": type_words,
    "drawn": sign_in_the_field,
}
OWN_FIELDS = ("reason", "revision")
BOLTS = 2
"""Bolts of a list that are entered one by one."""
SIMPLE = frozenset({"tick", "text", "choice", "reading", "bounded", "table", "equipment"})
"""Ways of entering that are done by hand once in each step."""


@dataclass
class BrowserTablet(Hand):
    """A tablet in a browser at which one person is signed on.

    Each way of entering is done by hand once in each step; more of the same goes straight to the
    door from this browser, because a page for each of three hundred entries takes minutes.
    ``bands`` collects what the high-voltage band said, each change once.
    """

    page: Page
    job: str
    person: str
    pin: str = field(repr=False)
    bands: list[str] = field(default_factory=list)
    unlocked: int = 0
    done_by_hand: set[tuple[str, str]] = field(default_factory=set)
    stale: bool = False

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
        if address not in self.page.url or self.stale:
            self.page.goto(address)
            self.stale = False
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
        if isinstance(value, dict) and "received_by" in value:
            sign_in_the_field(form, value["received_by"])
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
        elif form.get_attribute("data-entry") == "torque":
            button = form.locator('button[type="submit"]:not([name])')
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
        slug = slug_of(entry, self.here())
        shape = self.shape_of(entry)
        if shape in SIMPLE and (slug, shape) in self.done_by_hand:
            reply = self.send(entry)
            if reply.verdict == "applied":
                return reply
        self.show(slug)
        if not self.form(entry, self.page).count():
            self.look_again()
        self.done_by_hand.add((slug, self.shape_of(entry)))
        if self.shape_of(entry) == "torque":
            return self.tighten(entry)
        if self.shape_of(entry) == "log":
            return self.read_in(entry["value"]["sha256"])
        return self.enter(entry)

    def shape_of(self, entry: dict[str, Any]) -> str:
        """Name the way in which the page that is shown takes an entry; empty where it does not."""
        form = self.form(entry, self.page)
        return (form.get_attribute("data-entry") or "") if form.count() else ""

    def send(self, entry: dict[str, Any]) -> Reply:
        """Send an entry as the page would, without its form."""
        kept = self.page.context.cookies(self.page.url)
        cookies = {each["name"].removeprefix("__Host-"): each["value"] for each in kept}
        token = {"X-CSRFToken": cookies.get("coldbus_csrf", ""), "Referer": self.page.url}
        answer = self.page.request.post(DOOR, data={"entries": [entry]}, headers=token)
        self.stale = True
        return reply_of(answer)

    def tighten(self, entry: dict[str, Any]) -> Reply:
        """Enter the first bolts one by one, each when the page has its turn, then the others."""
        left = dict(entry["value"])
        turns = min(BOLTS, len(left))
        for done in range(1, turns + 1):
            turn = self.form(entry, self.page).locator('[name="bolt"]').input_value()
            bolt = turn if turn in left else next(iter(left))
            reply = self.enter({**entry, "value": {bolt: left.pop(bolt)}})
            if reply.verdict != "applied" or (done == turns and not left):
                return reply
        return self.send({**entry, "value": left})

    def read_in(self, sha256: str) -> Reply:
        """Read a log in by its own two pages: choose the file, look at it, save it."""
        page = self.page
        page.get_by_role("link", name="Read a log in").first.click()
        page.locator("#log-file").set_input_files(
            {"name": "charger.csv", "mimeType": "text/csv", "buffer": path_of(sha256).read_bytes()}
        )
        page.get_by_role("button", name="Look at it").click()
        page.get_by_role("button", name="Save the log in the job").click()
        page.wait_for_url(f"**/jobs/{self.job}/road_test/**")
        head = page.locator("[data-head]").first.get_attribute("data-head") or ""
        return Reply(200, "applied", head=head)

    def enter(self, entry: dict[str, Any]) -> Reply:
        """Press the form of an entry; type the PIN where it is asked, and wait for the page."""
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
