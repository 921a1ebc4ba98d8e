"""Earlier jobs as a prior: they order the search, never exclude, never confirm."""

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.core.entry import Kind
from jobs.core.leak_history import MOST, History, prior_of
from jobs.core.section import Said
from jobs.practice.player import book_in, play
from jobs.practice.scenario import recipe
from jobs.practice.scene import MANAGER, Draft, Stuck
from jobs.queries.leak_history import leaks_of
from jobs.queries.pack_jobs import leaks_of_pack
from jobs.queries.signed import record_shown
from jobs.steps.fault_localisation import STEP
from jobs.steps.fault_localisation.assessment import assess
from jobs.steps.fault_localisation.items import HISTORY
from tests.builders import Bench, a_pack
from tests.jobs.steps.isolation_scene import LEAK_IN_M3, an_isolation_bench
from tests.jobs.steps.localisation_scene import a_localised_bench, put_quotation
from tests.jobs.test_accounting import visitor
from tests.play import a_job_at
from workshop import queries as shop
from workshop import sign_on

NAMES = [module.name for module in a_pack().modules]
COUNTS = st.dictionaries(st.sampled_from(NAMES), st.integers(1, 100_000), min_size=1)


def put_history(bench: Bench, **modules: int) -> None:
    counts = {name: str(count) for name, count in modules.items()}
    stored = {"jobs": str(sum(modules.values())), "modules": counts}
    bench.add(Kind.VALUE, stored, item=HISTORY.key)


def a_closed_bench() -> Bench:
    bench = an_isolation_bench(LEAK_IN_M3)
    put_quotation(bench)
    return bench


@given(COUNTS)
def test_no_count_takes_a_module_below_a_tenth_of_its_share(counts: dict[str, int]) -> None:
    pack = a_pack()
    prior = dict(prior_of(History(jobs=1, modules=counts), pack))
    assert set(prior) == set(counts)
    assert all(1.0 < factor <= MOST for factor in prior.values())
    weights = {one.name: one.cells * prior.get(one.name, 1.0) for one in pack.modules}
    for one in pack.modules:
        share = weights[one.name] / sum(weights.values())
        assert share >= one.cells / pack.cells_total / MOST


@given(st.integers(1, 500), st.integers(1, 500))
def test_more_jobs_never_make_a_module_less_likely(few: int, more: int) -> None:
    (low,), (high,) = (
        prior_of(History(jobs=n, modules={"M3": n}), a_pack()) for n in sorted((few, few + more))
    )
    assert low[1] <= high[1]


def test_it_is_off_by_itself_and_then_nothing_is_said_of_it() -> None:
    record = a_closed_bench().record()
    assert not record.has(HISTORY)
    labels = {fact.label for fact in STEP.section(record, assess(record)).facts}
    assert "The readings without earlier jobs" not in labels
    assert HISTORY.key in {item.key for item in STEP.items(record)}


@settings(max_examples=12, deadline=None)
@given(COUNTS)
def test_at_the_closed_pack_no_history_confirms_anything(counts: dict[str, int]) -> None:
    bench = a_closed_bench()
    put_history(bench, **counts)
    assert assess(bench.record()).confirmed_by == ()


def test_a_history_that_points_elsewhere_does_not_hide_what_the_readings_confirm() -> None:
    bench = a_localised_bench()
    before = assess(bench.record())
    put_history(bench, M9=1000, M8=700)
    found = assess(bench.record())
    assert found.search.named == before.search.named == ("M3",)
    assert found.confirmed_by == before.confirmed_by
    chance = {one.name: one.probability for one in found.search.result.modules}  # type: ignore[union-attr]
    assert chance["M3"] > 0.95


def test_it_changes_the_order_of_what_is_not_decided_and_says_what_it_would_be_without() -> None:
    bench = a_closed_bench()
    alone = assess(bench.record()).search.result
    assert alone is not None
    chance = {one.name: one.probability for one in alone.modules}
    put_history(bench, M4=50)
    record = bench.record()
    guided = assess(record).search.result
    assert guided is not None
    assert {one.name: one.probability for one in guided.modules}["M4"] > chance["M4"]
    facts = {fact.label: fact.value for fact in STEP.section(record, assess(record)).facts}
    said = facts["Earlier jobs guide the search"]
    without = facts["The readings without earlier jobs"]
    assert isinstance(said, Said)
    assert said.params == {"jobs": 50, "counts": "M4 50\u00d7"}
    assert isinstance(without, Said)
    names = (alone.likely if alone.verdict != "named" else ("M3",))[:3]
    assert without.params == {"modules": ", ".join(names)}


def test_struck_it_guides_no_more() -> None:
    bench = a_closed_bench()
    alone = assess(bench.record()).search
    put_history(bench, M4=50)
    entry = bench.entries[-1]
    bench.add(Kind.STRIKE, {"key": entry.key, "reason": "not wanted"})
    assert assess(bench.record()).search == alone


# ---------------------------------------------------------------- what earlier jobs found


@pytest.mark.django_db
def test_a_signed_and_confirmed_module_counts_until_its_step_is_re_opened() -> None:
    with a_job_at("module_swap") as scene:
        found = leaks_of("delivery-van")
        assert {name: [str(job) for job in jobs] for name, jobs in found.modules.items()} == {
            "M9": [scene.job]
        }
        assert [str(job) for job in found.looked_at] == [scene.job]
        assert leaks_of("city-hatchback").looked_at == ()
        assert leaks_of("delivery-van", found.looked_at[0]).modules == {}
        again = {"step": STEP.slug, "reason": "look again"}
        scene.do(Draft(kind=Kind.REOPEN, by=MANAGER, value=again))
        assert leaks_of("delivery-van").looked_at == ()


@pytest.mark.django_db
def test_without_an_earlier_job_the_switch_is_refused() -> None:
    with a_job_at("fault_localisation") as scene, pytest.raises(Stuck) as refused:
        scene.enter(HISTORY, True)
    assert "localise_no_history" in repr(refused.value.args)


@pytest.mark.django_db
def test_the_counts_are_kept_in_the_record_and_the_sealed_result_is_computed_again() -> None:
    with a_job_at("closed") as earlier:
        scene = book_in(earlier.shop, recipe("van-harness"), earlier.clock)
        scene.hand = earlier.hand
        play(scene, until="fault_localisation")
        scene.enter(HISTORY, True)
        kept = scene.record().get(HISTORY)
        assert kept == History(jobs=1, modules={"M9": 1})
        play(scene, until="module_swap")
        shown = record_shown(scene.record(), STEP)
        assert shown.matches
        assert shown.record.get(HISTORY) == kept


@pytest.mark.django_db
def test_it_reads_as_a_switch_that_shows_whether_it_is_on() -> None:
    with a_job_at("closed") as earlier:
        scene = book_in(earlier.shop, recipe("van-harness"), earlier.clock)
        scene.hand = earlier.hand
        play(scene, until="fault_localisation")
        client = visitor(scene, "technician")
        off = client.get(f"/jobs/{scene.job}/{STEP.slug}/").content.decode()
        scene.enter(HISTORY, True)
        on = client.get(f"/jobs/{scene.job}/{STEP.slug}/").content.decode()
    assert off.count("Switch on") == 1
    assert '<strong class="switch-state">Off</strong>' in off
    assert "Switch on" not in on
    assert "Switch off" in on
    assert '<strong class="switch-state switch-on">On</strong>' in on
    assert "prior from one earlier job: M9 1×" in on


@pytest.mark.django_db
def test_the_pack_says_which_jobs_stand_behind_each_number() -> None:
    with a_job_at("module_swap") as scene:
        leaks = leaks_of_pack("delivery-van")
        (ref,) = leaks.looked_at
        assert leaks.modules == (("M9", (ref,)),)
        assert scene.job in ref.address
        client = Client()
        session = client.session
        session[sign_on.PERSON_KEY] = scene.shop.people["Lorne"]
        session[sign_on.MARK_KEY] = shop.session_mark(scene.shop.people["Lorne"])
        session[sign_on.SEEN_KEY] = scene.clock.now().timestamp()
        session.save()
        page = client.get(reverse("packs:pack", args=["delivery-van"])).content.decode()
        assert "Module M9: 1×" in page
        assert ref.address in page
