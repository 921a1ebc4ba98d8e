"""Every test of the log reader runs by both of its ways."""

from collections.abc import Iterator

import pytest

from packs.logs import processor


@pytest.fixture(scope="module", autouse=True, params=["by_polars", "by_numpy"])
def way(request: pytest.FixtureRequest) -> Iterator[str]:
    """Take one way, whatever the processor."""
    if request.param == "by_polars" and not processor.can_run_polars():
        pytest.skip("this computer's processor cannot run polars")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(processor, "can_run_polars", lambda: request.param == "by_polars")
        yield request.param
