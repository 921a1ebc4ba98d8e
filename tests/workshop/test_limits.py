from jobs.core.limits import Limits
from workshop.limits import DEFAULTS


def test_the_shop_lists_exactly_the_limits_that_jobs_use() -> None:
    assert set(DEFAULTS) == set(Limits.model_fields)


def test_the_defaults_are_those_of_the_jobs() -> None:
    differing = {
        key
        for key, limit in DEFAULTS.items()
        if (figure := getattr(Limits(), key))
        and (figure.value, figure.kind, figure.source) != (limit.value, limit.kind, limit.source)
    }
    assert differing == set()


def test_each_default_lies_inside_its_bounds() -> None:
    assert all(limit.low <= limit.value <= limit.high for limit in DEFAULTS.values())
