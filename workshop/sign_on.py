"""Who is at this tablet: the middleware that says so and the decorator that asks.

A session keeps the person's identifier, a mark that ends with their PIN, and when they were last
seen. After some minutes without a touch the PIN is asked again; a form sent after that is kept on
the page that asks, and goes on when the PIN is right. The pages are ``workshop.views.sign_on``.
The door for entries of a job does its own asking, as JSON: this decorator is not for it.
"""

from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from typing import Any, Final
from urllib.parse import urlencode

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.middleware.csrf import rotate_token
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation

from workshop import actions, clock, devices, languages, place, queries, units
from workshop.actions.devices import DEVICE_KEY
from workshop.office import PASSWORD_FIELD, ask, is_fresh, note_fresh
from workshop.once_a_request import asking
from workshop.people import PersonInfo
from workshop.queries import DeviceInfo
from workshop.registers import ShopInfo
from workshop.wire import https_port, travels_open

PERSON_KEY: Final = "person"
MARK_KEY: Final = "mark"
SEEN_KEY: Final = "seen_s"
PLACE_KEY: Final = "place"
UNLOCK_FIELD: Final = "unlock_pin"
SEEN_EVERY_S: Final = 20
"""A session is written again only when this much time has passed [s]."""
PLAIN_COOKIE: Final = "coldbus_plain"
"""Says that somebody chose plain http for this tablet."""
BY_ITSELF: Final = "X-By-Itself"
"""Header of what a page asks on its own: no touch, so it keeps nobody signed on."""


class ShopRequest(HttpRequest):
    """A request after ``person_middleware``."""

    person: PersonInfo | None
    locked_person: PersonInfo | None
    shop: ShopInfo
    device: DeviceInfo | None
    shut_out: bool


View = Callable[..., HttpResponseBase]


def idle_lock() -> timedelta:
    """Give the time without a touch after which the PIN is asked again."""
    return timedelta(minutes=getattr(settings, "COLDBUS_IDLE_LOCK_MINUTES", 5))


def person_middleware(get_response: View) -> View:
    """Say on each request who is signed on, who is locked out by idling, and in which zone.

    Zone, units and language hold for this request alone.
    """

    def middleware(request: ShopRequest) -> HttpResponseBase:
        with asking():
            return answered(request)

    def answered(request: ShopRequest) -> HttpResponseBase:
        request.shop = queries.shop()
        timezone.activate(request.shop.zone)
        request.device = devices.of_request(request)
        request.shut_out = devices.is_shut_out(request.device, request.shop)
        request.person, request.locked_person = _people_of(request)
        at_tablet = request.person or request.locked_person
        own = at_tablet.language if at_tablet else ""
        language = languages.known(own, request.shop.language)
        here = place.at(place.of_request(request))
        with here, units.use(request.shop.units), translation.override(language):
            answer = get_response(request)
        answer.headers.setdefault("Content-Language", language)
        return answer

    return middleware


def _people_of(request: ShopRequest) -> tuple[PersonInfo | None, PersonInfo | None]:
    """Give the person signed on, or the one whom idling has locked."""
    session = request.session
    device_id = request.device.id if request.device else ""
    if request.shut_out or session.get(DEVICE_KEY, "") != device_id:
        return None, None
    person_id, mark = session.get(PERSON_KEY), session.get(MARK_KEY)
    if not (isinstance(person_id, str) and isinstance(mark, str)):
        return None, None
    person = queries.person_of_session(person_id, mark)
    if person is None:
        return None, None
    now_s = clock.now().timestamp()
    idle_s = now_s - float(session.get(SEEN_KEY, 0))
    if idle_s > idle_lock().total_seconds():
        return None, person
    if idle_s >= SEEN_EVERY_S and BY_ITSELF not in request.headers:
        session[SEEN_KEY] = now_s
        if request.device is not None:
            actions.note_device_seen(request.device.id, request.device.seen_at)
    return person, None


def sign_on(request: ShopRequest, person_id: str) -> None:
    """Make a person the one at this tablet, under a new session key."""
    if request.session.get(PERSON_KEY) not in {None, person_id}:
        request.session.flush()
    request.session.cycle_key()
    request.session[PERSON_KEY] = person_id
    request.session[MARK_KEY] = queries.session_mark(person_id)
    request.session[SEEN_KEY] = clock.now().timestamp()
    request.session[PLACE_KEY] = place.current()
    request.session[DEVICE_KEY] = request.device.id if request.device else ""
    rotate_token(request)
    actions.note_sign_in("signed_on", person_id=person_id)


def keep_signed_on(request: ShopRequest, device: DeviceInfo | None) -> None:
    """Let whoever is signed on stay so while their device is taken in."""
    request.session[DEVICE_KEY] = device.id if device else ""


def sign_off(request: HttpRequest) -> None:
    """Forget who was at this tablet."""
    if PERSON_KEY in request.session:
        actions.note_sign_in("signed_off", person_id=request.session[PERSON_KEY])
    request.session.flush()
    rotate_token(request)


def signed_on(*roles: str, office: bool = False) -> Callable[[View], View]:
    """Let a page be seen only by somebody signed on, with one of the roles if any are named.

    Parameters
    ----------
    *roles : str
        Roles that may see it; none named means everybody signed on.
    office : bool
        Whether the password is asked, where the shop wants that for what only the office does.

    Returns
    -------
    Callable
        The decorator for a function view.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: ShopRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if request.person is None:
                refused = _ask(request)
                if refused is not None:
                    return refused
            if roles and (request.person is None or request.person.role not in roles):
                return render(request, "workshop/not_allowed.html", {"roles": roles}, status=403)
            if office and request.shop.office_password and request.person is not None:
                asked = _ask_password(request, request.person)
                if asked is not None:
                    return asked
            return view(request, *args, **kwargs)

        return guarded

    return decorate


def of_the_shop(view: View) -> View:
    """Lead a device that is shut out to the page that takes a code; for views before sign-on."""

    @wraps(view)
    def guarded(request: ShopRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        return redirect("shop:enrol") if request.shut_out else view(request, *args, **kwargs)

    return guarded


def _ask(request: ShopRequest) -> HttpResponseBase | None:
    """Ask for a person or a PIN; None where the PIN sent along was right."""
    if BY_ITSELF in request.headers:
        # The page stays as it is, half-typed forms and all; the next touch asks.
        return HttpResponse(status=204)
    if request.method == "POST" and request.locked_person is not None:
        return _unlock(request, request.locked_person)
    if request.method == "POST":
        address = reverse("shop:sign_on")
    else:
        asked = urlencode({"next": request.get_full_path()})
        address = f"{_sign_on_address(request)}?{asked}"
    if request.headers.get("HX-Request"):
        # A fragment must not be swapped for a sign-on page: the whole page goes there.
        return HttpResponse(status=401, headers={"HX-Redirect": address})
    return redirect(address)


def _sign_on_address(request: ShopRequest) -> str:
    """Give the page for a code, the first run, the PIN of whoever is locked, or the tiles."""
    if request.shut_out:
        return reverse("shop:enrol")
    if request.locked_person is not None:
        return reverse("shop:sign_on_person", args=(request.locked_person.id,))
    if travels_open(request) and https_port() and PLAIN_COOKIE not in request.COOKIES:
        return reverse("start")
    return reverse("shop:sign_on" if queries.has_people() else "shop:first_run")


def _unlock(request: ShopRequest, person: PersonInfo) -> HttpResponseBase | None:
    """Check the PIN sent with a kept form; ask again, form and all, unless it is right."""
    typed = request.POST.get(UNLOCK_FIELD)
    result = None if typed is None else actions.check_pin(person.id, typed, clock.now())
    if result is not None and result.state == "right":
        sign_on(request, person.id)
        request.person, request.locked_person = person, None
        return None
    context = {"locked": person, "result": result, "kept": _kept(request)}
    return render(request, "workshop/locked.html", context, status=401)


def _ask_password(request: ShopRequest, person: PersonInfo) -> HttpResponseBase | None:
    """Ask for the password; None where it was typed a short while ago, or right now."""
    if is_fresh(request, person):
        return None
    if BY_ITSELF in request.headers:
        return HttpResponse(status=204)
    typed = request.POST.get(PASSWORD_FIELD)
    result = None if typed is None else actions.check_password(person.id, typed, clock.now())
    if result is not None and result.state == "right":
        note_fresh(request, person)
        return None
    return ask(request, person, _kept(request), result=result)


def _kept(request: HttpRequest) -> list[tuple[str, str]]:
    """Give every field of the form as sent, save tokens and PINs, which are typed again."""
    return [
        (name, value)
        for name, values in request.POST.lists()
        for value in values
        if name not in {"csrfmiddlewaretoken", UNLOCK_FIELD, PASSWORD_FIELD}
        and not name.startswith(("pin", "password"))
    ]
