"""What is shown when something went wrong: a page without a person, in words, with a way on."""

import pytest
from django.template.loader import render_to_string
from django.test import Client

from tests.pages.reading import read

STATUSES = (400, 403, 404, 500)


@pytest.mark.parametrize("status", STATUSES)
def test_a_fault_page_stands_by_itself_and_says_what_to_do(status: int) -> None:
    text = render_to_string(f"{status}.html", {"text": "Reload & go on.", "number": ""})
    assert "Reload &amp; go on." in text
    assert "treat every high-voltage part as live" in text
    assert 'href="/"' in text
    assert "fault-number" not in text
    assert read(text).headings == [1]


def test_a_fault_of_ours_shows_its_number_large() -> None:
    text = render_to_string("500.html", {"text": "Tell the manager.", "number": "AC4KW7"})
    assert '<p class="fault-number">AC4KW7</p>' in text


@pytest.mark.django_db
def test_an_address_that_leads_nowhere_gets_that_page() -> None:
    answer = Client().get("/no/such/page/")
    assert answer.status_code == 404
    assert "There is no such page" in answer.content.decode()
