"""What a person sees when something went wrong."""

import logging

import pytest
from django.http import HttpRequest
from django.test import RequestFactory

from workshop import fault_pages


def go_wrong() -> float:
    return 1 / len([])


@pytest.fixture
def request_for_page() -> HttpRequest:
    return RequestFactory().get("/jobs/7/")


def test_a_fault_is_logged_once_under_the_number_that_is_shown(
    request_for_page: HttpRequest, caplog: pytest.LogCaptureFixture
) -> None:
    try:
        pytest.fail(str(go_wrong()))
    except ZeroDivisionError:
        answer = fault_pages.server_error(request_for_page)
    (record,) = caplog.records
    assert record.args is not None
    number = record.getMessage().split()[1]
    assert answer.status_code == 500
    assert number in answer.content.decode()
    assert record.exc_info is not None
    assert record.exc_info[0] is ZeroDivisionError


def test_two_faults_have_two_numbers(
    request_for_page: HttpRequest, caplog: pytest.LogCaptureFixture
) -> None:
    fault_pages.server_error(request_for_page)
    fault_pages.server_error(request_for_page)
    assert len({record.getMessage().split()[1] for record in caplog.records}) == 2


def test_a_script_gets_json(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.CRITICAL, logger="coldbus")
    request = RequestFactory().post("/door/", headers={"accept": "application/json"})
    answer = fault_pages.server_error(request)
    assert answer.status_code == 500
    assert answer["Content-Type"] == "application/json"


def test_the_other_pages_say_what_to_do(request_for_page: HttpRequest) -> None:
    nothing = ValueError()
    assert fault_pages.bad_request(request_for_page, nothing).status_code == 400
    assert fault_pages.not_allowed(request_for_page, nothing).status_code == 403
    assert fault_pages.not_found(request_for_page, nothing).status_code == 404
    assert b"reload" in fault_pages.form_expired(request_for_page, "no cookie").content
