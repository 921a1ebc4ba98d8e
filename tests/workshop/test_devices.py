"""Devices: taken in by a code, known by what they keep, turned away, and all others shut out."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.test import Client

from workshop import actions, clock, devices, place, queries
from workshop.actions.devices import CODE_LASTS, WRONG_CODES
from workshop.clock import FixedClock
from workshop.errors import InputRefused, NotAllowed
from workshop.models import Device, DeviceCode, RegisterEvent, SignIn

PIN = "4826"


def a_code(manager: str) -> str:
    return actions.make_device_code(by=manager, now=clock.now()).code


def enrolled(manager: str, name: str = "Tablet bay 2") -> str:
    return actions.enrol(code=a_code(manager), name=name, now=clock.now())


def with_token(token: str) -> Client:
    client = Client()
    client.cookies[devices.COOKIE] = token
    return client


def signs_on(client: Client, person: str) -> bool:
    answer = client.post(f"/shop/sign-on/{person}/", {"pin": PIN})
    return answer.status_code == 302 and not answer.headers["Location"].endswith("/enrol/")


def id_of(token: str) -> str:
    found = queries.device_of_token(token)
    assert found is not None
    return found.id


def close_to_others(manager: str, token: str) -> None:
    actions.let_only_enrolled(only=True, by=manager, token=token)


def test_a_code_takes_in_one_device_and_no_second(wren: str) -> None:
    code = a_code(wren)
    token = actions.enrol(code=code, name="  Tablet   bay 2 ", now=clock.now())
    found = queries.device_of_token(token)
    assert found is not None
    assert (found.name, found.enrolled_by, found.revoked_at) == (
        "Tablet bay 2",
        "Wren Example",
        None,
    )
    with pytest.raises(InputRefused) as refused:
        actions.enrol(code=code, name="Another", now=clock.now())
    assert refused.value.code == "code_wrong"
    assert len(queries.devices()) == 1


def test_a_code_is_read_as_people_type_it(wren: str) -> None:
    code = a_code(wren)
    typed = f" {code.lower().replace('-', ' ')} "
    assert actions.enrol(code=typed, name="Front desk", now=clock.now())


def test_a_code_ends_by_itself_and_with_the_next(wren: str, time: FixedClock) -> None:
    first = a_code(wren)
    second = a_code(wren)
    with pytest.raises(InputRefused):
        actions.enrol(code=first, name="One", now=clock.now())
    time.advance(CODE_LASTS)
    with pytest.raises(InputRefused):
        actions.enrol(code=second, name="Two", now=clock.now())
    assert queries.devices() == ()


def test_neither_code_nor_token_is_kept_as_it_is(wren: str) -> None:
    code = a_code(wren)
    token = actions.enrol(code=code, name="Tablet", now=clock.now())
    kept = [*DeviceCode.objects.values_list(), *Device.objects.values_list()]
    kept += [*RegisterEvent.objects.values_list(), *SignIn.objects.values_list()]
    assert token not in str(kept)
    assert code not in str(kept)
    assert code.replace("-", "") not in str(kept)
    assert len(token) >= 43


def test_wrong_codes_lock_the_place_and_are_logged(wren: str) -> None:
    code = a_code(wren)
    with place.at("address:elsewhere"):
        for _ in range(5):
            with pytest.raises(InputRefused):
                actions.enrol(code="AAAA-AAAA", name="Tablet", now=clock.now())
        with pytest.raises(InputRefused) as refused:
            actions.enrol(code=code, name="Tablet", now=clock.now())
    assert refused.value.code == "code_locked"
    assert SignIn.objects.filter(kind="code_wrong").count() == 5
    with place.at("address:elsewhere"):
        assert actions.check_pin(wren, PIN, clock.now()).state == "right"
    with place.at("address:here"):
        assert actions.enrol(code=code, name="Tablet", now=clock.now())


def test_many_wrong_codes_from_many_places_end_the_open_code(wren: str) -> None:
    code = a_code(wren)
    for number in range(WRONG_CODES):
        with place.at(f"address:{number}"), pytest.raises(InputRefused):
            actions.enrol(code="AAAA-AAAA", name="Tablet", now=clock.now())
    with place.at("address:last"), pytest.raises(InputRefused) as refused:
        actions.enrol(code=code, name="Tablet", now=clock.now())
    assert refused.value.code == "code_wrong"


def test_two_devices_have_two_names_until_one_is_turned_away(wren: str) -> None:
    token = enrolled(wren, "Tablet bay 2")
    with pytest.raises(InputRefused) as refused:
        enrolled(wren, "tablet BAY 2")
    assert (refused.value.code, refused.value.field) == ("device_name_taken", "name")
    actions.revoke_device(device_id=id_of(token), by=wren, now=clock.now())
    assert enrolled(wren, "Tablet bay 2")


@pytest.mark.parametrize("name", ["", "  ", "n" * 61])
def test_a_name_that_does_not_do_costs_no_code(wren: str, name: str) -> None:
    code = a_code(wren)
    with pytest.raises(InputRefused):
        actions.enrol(code=code, name=name, now=clock.now())
    assert actions.enrol(code=code, name="Tablet", now=clock.now())


def test_only_managers_make_codes_and_turn_devices_away(wren: str, sorrel: str, ivy: str) -> None:
    token = enrolled(wren)
    for other in (sorrel, ivy):
        with pytest.raises(NotAllowed):
            a_code(other)
        with pytest.raises(NotAllowed):
            actions.enrol_here(name="Mine", by=other, now=clock.now())
        with pytest.raises(NotAllowed):
            actions.revoke_device(device_id=id_of(token), by=other, now=clock.now())
        with pytest.raises(NotAllowed):
            close_to_others(other, token)


def test_what_was_done_stands_in_history_and_log(wren: str) -> None:
    token = enrolled(wren)
    actions.revoke_device(device_id=id_of(token), by=wren, now=clock.now())
    actions.revoke_device(device_id=id_of(token), by=wren, now=clock.now())
    kinds = [each.kind for each in queries.history(id_of(token))]
    assert sorted(kinds) == ["enrolled", "revoked"]
    logged = [each.kind for each in queries.sign_ins().rows]
    assert logged == ["revoked", "enrolled", "device_code"]


def test_a_device_turned_away_is_signed_off_and_shut_out_at_once(wren: str, sorrel: str) -> None:
    token = enrolled(wren)
    tablet, other = with_token(token), Client()
    assert signs_on(tablet, sorrel)
    assert signs_on(other, sorrel)
    actions.revoke_device(device_id=id_of(token), by=wren, now=clock.now())
    answer = tablet.get("/shop/equipment/")
    assert answer.headers["Location"].startswith("/shop/enrol/")
    assert not signs_on(tablet, sorrel)
    assert other.get("/shop/equipment/").status_code == 200
    assert "Tablet bay 2" in tablet.get("/shop/enrol/").content.decode()


def test_a_device_turned_away_comes_back_by_another_code(wren: str, sorrel: str) -> None:
    token = enrolled(wren)
    actions.revoke_device(device_id=id_of(token), by=wren, now=clock.now())
    tablet = with_token(token)
    answer = tablet.post("/shop/enrol/", {"code": a_code(wren), "name": "Tablet bay 2"})
    assert answer.status_code == 302
    assert tablet.cookies[devices.COOKIE].value != token
    assert signs_on(tablet, sorrel)


def test_a_session_copied_to_another_device_is_nobodys(wren: str, sorrel: str) -> None:
    tablet = with_token(enrolled(wren))
    assert signs_on(tablet, sorrel)
    for thief in (Client(), with_token(enrolled(wren, "Another"))):
        thief.cookies["coldbus_session"] = tablet.cookies["coldbus_session"].value
        assert thief.get("/shop/equipment/").status_code == 302
    assert tablet.get("/shop/equipment/").status_code == 200


def test_a_shop_that_is_not_strict_goes_on_as_before(wren: str, sorrel: str) -> None:
    enrolled(wren)
    assert signs_on(Client(), sorrel)
    assert signs_on(with_token("never given"), sorrel)


def test_a_strict_shop_lets_nobody_work_elsewhere(wren: str, sorrel: str) -> None:
    token, early = enrolled(wren), Client()
    assert signs_on(early, sorrel)
    close_to_others(wren, token)
    assert early.get("/shop/equipment/").headers["Location"].startswith("/shop/enrol/")
    for stranger in (Client(), with_token("never given")):
        assert not signs_on(stranger, sorrel)
        for path in ("/", "/shop/sign-on/", "/shop/first-run/", "/jobs/"):
            assert stranger.get(path, follow=True).redirect_chain[-1][0].startswith("/shop/enrol/")
        assert stranger.get("/start/").status_code == 200
        assert stranger.get("/tablet/").status_code == 200
    assert signs_on(with_token(token), sorrel)


def test_a_strict_shop_is_made_only_at_a_device_that_stays_inside(wren: str) -> None:
    gone = enrolled(wren, "Gone")
    actions.revoke_device(device_id=id_of(gone), by=wren, now=clock.now())
    for token in ("", "never given", gone):
        with pytest.raises(NotAllowed) as refused:
            close_to_others(wren, token)
        assert refused.value.code == "device_here_first"
    assert not queries.shop().only_enrolled
    close_to_others(wren, enrolled(wren))
    assert queries.shop().only_enrolled
    actions.let_only_enrolled(only=False, by=wren)
    assert not queries.shop().only_enrolled


def test_a_manager_takes_in_the_device_in_hand_and_stays_signed_on(wren: str) -> None:
    client = Client()
    assert signs_on(client, wren)
    refused = client.post("/shop/devices/only/", {"only": "1"})
    assert refused.status_code == 422
    assert "shut yourself out" in refused.content.decode()
    assert client.post("/shop/devices/this/", {"name": "Office"}).status_code == 302
    assert client.post("/shop/devices/only/", {"only": "1"}).status_code == 302
    shown = client.get("/shop/devices/").content.decode()
    assert "Office" in shown
    assert "at any other device nobody can sign on" in shown
    assert client.get("/shop/settings/").status_code == 200
    assert client.post("/shop/devices/this/", {"name": "Twice"}).status_code == 302
    assert len(queries.devices()) == 1


def test_the_page_shows_a_code_once_with_its_picture(wren: str) -> None:
    client = Client()
    assert signs_on(client, wren)
    shown = client.post("/shop/devices/code/").content.decode()
    code = shown.partition('device-code">')[2].partition("<")[0]
    assert "data:image/svg+xml" in shown
    assert code not in client.get("/shop/devices/").content.decode()
    tablet = Client()
    typed = tablet.get(f"/shop/enrol/?code={code}").content.decode()
    assert f'value="{code}"' in typed
    assert tablet.post("/shop/enrol/", {"code": code, "name": "Bay 1"}).status_code == 302
    assert "enrolled as Bay 1" in tablet.get("/shop/enrol/").content.decode()


def test_no_picture_leads_a_tablet_to_itself(wren: str) -> None:
    client = Client(headers={"host": "127.0.0.1:8000"})
    assert signs_on(client, wren)
    shown = client.post("/shop/devices/code/").content.decode()
    assert "device-code" in shown
    assert "data:image/svg+xml" not in shown


def test_a_device_turned_away_is_called_as_before_unless_named_anew(wren: str) -> None:
    token = enrolled(wren)
    actions.revoke_device(device_id=id_of(token), by=wren, now=clock.now())
    assert 'value="Tablet bay 2"' in with_token(token).get("/shop/enrol/").content.decode()


def test_a_shop_that_shut_itself_out_gets_in_again_from_the_server(
    wren: str, sorrel: str, capsys: pytest.CaptureFixture[str]
) -> None:
    close_to_others(wren, enrolled(wren))
    call_command("devices", code=True)
    said = capsys.readouterr().out
    assert "Tablet bay 2: enrolled" in said
    assert "people may work at enrolled devices only" in said
    code = said.partition("Code ")[2].partition(",")[0]
    tablet = Client()
    assert tablet.post("/shop/enrol/", {"code": code, "name": "Bay 1"}).status_code == 302
    assert signs_on(tablet, sorrel)
    call_command("devices", any=True)
    assert "people may work at any device" in capsys.readouterr().out
    assert signs_on(Client(), sorrel)


def test_a_wrong_code_keeps_what_was_typed(wren: str) -> None:
    answer = Client().post("/shop/enrol/", {"code": "AAAA-AAAA", "name": "Bay 1"})
    assert answer.status_code == 422
    shown = answer.content.decode()
    assert "takes nothing in" in shown
    assert 'value="Bay 1"' in shown


def test_the_cookie_is_out_of_reach_of_scripts_and_lasts_a_year(wren: str) -> None:
    tablet = Client()
    tablet.post("/shop/enrol/", {"code": a_code(wren), "name": "Bay 1"})
    cookie = tablet.cookies[devices.COOKIE]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert int(cookie["max-age"]) >= 365 * 86_400


def test_over_https_the_cookie_is_bound_to_this_host_and_apart_from_plain_http(wren: str) -> None:
    tablet = Client()
    tablet.post("/shop/enrol/", {"code": a_code(wren), "name": "Bay 1"}, secure=True)
    assert f"__Host-{devices.COOKIE}" in tablet.cookies
    assert devices.COOKIE not in tablet.cookies
    assert "enrolled as Bay 1" in tablet.get("/shop/enrol/", secure=True).content.decode()
    assert "enrolled as" not in tablet.get("/shop/enrol/").content.decode()


def test_signing_on_lets_the_device_keep_its_token_for_another_year(wren: str, sorrel: str) -> None:
    token = enrolled(wren)
    tablet = with_token(token)
    assert signs_on(tablet, sorrel)
    assert tablet.cookies[devices.COOKIE].value == token
    assert int(tablet.cookies[devices.COOKIE]["max-age"]) >= 365 * 86_400


def test_when_a_device_was_last_worked_at_is_noted_now_and_then(
    wren: str, sorrel: str, time: FixedClock
) -> None:
    token = enrolled(wren)
    tablet = with_token(token)
    assert signs_on(tablet, sorrel)
    began = clock.now()
    for minutes in (4, 4, 3):
        time.advance(timedelta(minutes=minutes))
        assert tablet.get("/shop/equipment/").status_code == 200
    found = queries.device(id_of(token))
    assert found is not None
    assert found.seen_at == began + timedelta(minutes=11)


def test_asking_by_itself_is_no_work_at_a_device(wren: str, sorrel: str, time: FixedClock) -> None:
    token = enrolled(wren)
    tablet = with_token(token)
    assert signs_on(tablet, sorrel)
    began = clock.now()
    time.advance(timedelta(minutes=4, seconds=30))
    tablet.get("/shop/equipment/")
    time.advance(timedelta(minutes=4, seconds=30))
    tablet.get("/shop/equipment/", headers={"X-By-Itself": "1"})
    found = queries.device(id_of(token))
    assert found is not None
    assert found.seen_at == began
