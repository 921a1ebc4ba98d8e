"""Every address of the project, filled in with what one workshop holds."""

from collections.abc import Iterator
from uuid import uuid5

from django.urls import URLPattern, URLResolver, get_resolver, reverse

from jobs.actions.tablets import Heard, hear
from jobs.practice.scene import Scene
from jobs.queries.quarantine import watches
from jobs.steps import STEPS
from packs import actions as packs
from packs.queries import DraftInfo, physical_packs
from workshop import actions, clock, queries
from workshop.details import PersonDetails
from workshop.equipment import KINDS
from workshop.people import MANAGER

__all__ = ["ONLY_POSTED", "address_of", "all_addresses", "names", "unknown"]

# These take what is sent and show nothing themselves.
ONLY_POSTED = {
    "start_plain",
    "jobs:desk_act",
    "jobs:desk_settle",
    "jobs:entries",
    "jobs:photo",
    "jobs:practice_begin",
    "jobs:practice_end",
    "jobs:practice_hint",
    "jobs:practice_look",
    "jobs:practice_read",
    "jobs:practice_take",
    "jobs:practice_time",
    "jobs:watch_check",
    "jobs:watch_end",
    "packs:discard_draft",
    "packs:open_revision",
    "packs:section_picture",
    "packs:start_picture",
    "packs:withdraw",
    "shop:device_code",
    "shop:device_here",
    "shop:devices_only",
    "shop:limit_reset",
    "shop:office_switch",
    "shop:password",
    "shop:person_password_clear",
    "shop:logo_clear",
    "shop:logo_set",
    "shop:own_language",
    "shop:person_unlock",
    "shop:backup_now",
    "shop:session_end",
    "shop:sign_off",
}


def _patterns(resolver: URLResolver, app: str) -> Iterator[tuple[str, URLPattern]]:
    for each in resolver.url_patterns:
        if isinstance(each, URLResolver):
            yield from _patterns(each, f"{each.app_name}:" if each.app_name else app)
        else:
            yield f"{app}{each.name}", each


def names() -> list[str]:
    """Give the name of every address."""
    return [name for name, _ in _patterns(get_resolver(), "")]


def _arguments(name: str) -> list[str]:
    pattern = dict(_patterns(get_resolver(), ""))[name]
    return list(pattern.pattern.converters)


def a_tablet_that_lacks_something() -> str:
    """Let a tablet say that it made an entry which never came; give its identifier."""
    device = "0b54f2f4-7a31-4e0b-9d27-6c1f2c1b9a10"
    hear(Heard(device=device, made=1), person="", now=clock.now())
    return device


def a_device(manager: str) -> str:
    """Take in a device that has no name of ours; give its identifier."""
    known = queries.devices()
    if not known:
        actions.enrol_here(name="7", by=manager, now=clock.now())
    return queries.devices()[0].id


def somebody_who_left() -> str:
    """Let somebody work here who has left by now; give the identifier."""
    manager = next(each for each in queries.people() if each.role == MANAGER)
    # A name that the invented workshop knows is no word of ours.
    details = PersonDetails(display_name=manager.display_name, short_name="Fern", role="technician")
    person = actions.add_person(details=details, by=manager.id)
    actions.retire_person(person_id=person, by=manager.id)
    return person


def _draft(scene: Scene) -> DraftInfo:
    """Give a draft of the scene's pack."""
    return packs.draft_from_revision(slug=scene.recipe.pack, by=None, now=clock.now())


def known(scene: Scene) -> dict[str, str | int]:
    """Give a value for each argument that an address may want."""
    shop = scene.shop
    vehicle = shop.vehicles[scene.recipe.plate]
    return {
        "job_id": scene.job,
        "person_id": shop.people["Munk"],
        "former_id": somebody_who_left(),
        "equipment_id": next(iter(shop.equipment.values())),
        "customer_id": vehicle.customer_id,
        "vehicle_id": vehicle.id,
        "code": "live_work",
        "unit_id": str(physical_packs()[0].id),
        "spare_id": str(next(iter(shop.spares.values()))),
        "slug": scene.recipe.pack,
        "number": 1,
        "first": 1,
        "second": 1,
        "section": "modules",
        "draft_id": str(_draft(scene).id),
        "kind": next(iter(KINDS)),
        "key": next(iter(queries.limits())),
        "sha256": "0" * 64,
        "name": "coldbus-00000000-20260302T120000Z-daily",
        "event_id": scene.job,
        "device_id": a_device(shop.people["Thorne"]),
        "device": a_tablet_that_lacks_something(),
        "subject_id": watches(clock.now())[0].id,
        "watch_id": watches(clock.now())[0].id,
    }


def address_of(name: str, scene: Scene, **other: str | int) -> str:
    """Give the address of that name for what the workshop holds."""
    given = {**known(scene), **other}
    if name in {"jobs:step", "jobs:sheet"}:
        given["slug"] = other.get("slug", STEPS[0].slug)
    return reverse(name, kwargs={each: given[each] for each in _arguments(name)})


def all_addresses(scene: Scene) -> dict[str, str]:
    """Give every address by its name, each for what the workshop holds."""
    held = known(scene)
    steps = {"jobs:step": {"slug": STEPS[0].slug}, "jobs:sheet": {"slug": STEPS[0].slug}}
    found = {}
    for name, pattern in _patterns(get_resolver(), ""):
        given = {**held, **steps.get(name, {})}
        found[name] = reverse(
            name, kwargs={each: given[each] for each in pattern.pattern.converters}
        )
    return found


def unknown(name: str, scene: Scene) -> str:
    """Give the address of that name for something that the workshop does not hold."""
    stranger = str(uuid5(next(iter(scene.shop.spares.values())), "nobody"))
    wrong: dict[str, str | int] = {
        each: 999_999 if each in {"number", "first", "second"} else stranger
        for each in _arguments(name)
    }
    return reverse(name, kwargs=wrong)


def wants_something(name: str) -> bool:
    """Tell whether an address names something."""
    return bool(_arguments(name))
