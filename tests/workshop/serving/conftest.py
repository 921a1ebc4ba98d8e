"""A data folder with the invented shop, filled once, for servers to start on a copy of it."""

from pathlib import Path

import pytest

from tests.running import manage


@pytest.fixture(scope="session")
def invented(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("invented") / "data"
    with manage(folder, "up", "--demo", "--no-serve") as loading:
        said, _ = loading.communicate()
    assert loading.returncode == 0, said
    return folder
