"""A tablet changes hands: who stands where on the tiles, and the keypad that takes the PIN."""

import re

import pytest
from django.test import Client

NAME = re.compile(r'class="tile-name">([^<]+)<')
PIN = "4826"


def names(client: Client) -> list[str]:
    return NAME.findall(client.get("/shop/sign-on/").content.decode())


def sign_on(client: Client, person_id: str, pin: str = PIN) -> str:
    return client.post(f"/shop/sign-on/{person_id}/", {"pin": pin}).content.decode()


@pytest.mark.usefixtures("wren", "sorrel", "ivy")
def test_tiles_stand_by_role_then_name_at_a_tablet_that_knows_nobody(client: Client) -> None:
    assert names(client) == ["Sorrel", "Ivy", "Wren"]
    assert "Last at this tablet" not in client.get("/shop/sign-on/").content.decode()


def test_whoever_was_here_last_stands_first_at_this_tablet_only(
    client: Client, wren: str, sorrel: str, ivy: str
) -> None:
    sign_on(client, ivy)
    sign_on(client, wren)
    assert names(client) == ["Wren", "Ivy", "Sorrel"]
    assert "Last at this tablet" in client.get("/shop/sign-on/").content.decode()
    client.post("/shop/sign-off/")
    assert names(client) == ["Wren", "Ivy", "Sorrel"]
    assert names(Client()) == ["Sorrel", "Ivy", "Wren"]


def test_a_wrong_pin_puts_nobody_first_and_keeps_the_tile(client: Client, ivy: str) -> None:
    text = sign_on(client, ivy, "1111")
    assert "Tries left: 4." in text
    assert "<h1>Ivy" in text
    assert "Last at this tablet" not in client.get("/shop/sign-on/").content.decode()


def test_a_forged_cookie_is_nobody(client: Client, wren: str, ivy: str) -> None:
    client.cookies["coldbus_last_here"] = f"{wren}:forged"
    assert names(client) == ["Ivy", "Wren"]


def test_the_keypad_has_every_digit_and_a_step_back(client: Client, ivy: str) -> None:
    text = client.get(f"/shop/sign-on/{ivy}/").content.decode()
    assert sorted(re.findall(r'data-pin-key="(\w+)"', text)) == [*"0123456789", "back"]
    assert 'data-pin-for="id_pin"' in text
    assert 'type="password" id="id_pin"' in text
