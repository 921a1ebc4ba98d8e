"""``manage.py up`` as a person uses it: a whole server, in a data folder of its own."""

import urllib.error
import urllib.request
from collections.abc import Iterator

import pytest

from tests.running import Running, manage, running_server


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running_server(tmp_path_factory.mktemp("up")) as running:
        yield running


def status_of(address: str) -> int:
    try:
        with urllib.request.urlopen(address) as answer:  # noqa: S310 - our own loopback address
            status: int = answer.status
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code
    return status


def test_it_answers_at_the_address_it_prints(server: Running) -> None:
    assert server.address.startswith("http://127.0.0.1:")
    assert status_of(server.address + "shop/sign-on/nowhere/") == 404


def test_a_second_start_in_the_same_folder_is_refused(server: Running) -> None:
    with manage(server.folder, "up", "--no-serve") as second:
        said, _ = second.communicate()
    assert second.returncode == 1
    assert f"in use by the Coldbus server, process {server.process.pid}" in said


def test_a_command_that_writes_is_refused_in_one_sentence(server: Running) -> None:
    code = "from workshop.writing import one_writer\nwith one_writer(): pass"
    with manage(server.folder, "shell", "--no-imports", "-c", code) as command:
        said, _ = command.communicate()
    assert command.returncode == 1
    assert said.startswith(f"The data folder {server.folder} is in use by")
    assert len(said.splitlines()) == 1


def test_it_stops_when_asked_and_keeps_its_data(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    folder = tmp_path_factory.mktemp("stop")
    with running_server(folder) as running:
        assert running.stop() == 0
    assert (folder / "coldbus.sqlite3").stat().st_size > 0
