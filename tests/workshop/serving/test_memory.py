"""What the worker shares with the process that starts it."""

import gc

from workshop.serving.server import share_memory


def test_what_is_loaded_before_the_worker_starts_is_left_alone_by_the_collector() -> None:
    before = gc.get_freeze_count()
    share_memory()
    try:
        assert gc.get_freeze_count() > before
    finally:
        gc.unfreeze()
