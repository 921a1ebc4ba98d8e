"""A definition laid out for reading loses nothing."""

import pytest

from packs.definition import PackDefinition, from_toml
from packs.sheet import sheet_of, torque_lists
from tests.packs.changed_definition import changed, put, text_of


def words_of(pack: PackDefinition) -> str:
    """Return everything the sheet says, as one text."""
    parts: list[str] = []
    for section in sheet_of(pack):
        parts += [section.title, *section.remarks]
        parts += [f"{line.label}: {line.text}" for line in section.lines]
        parts += [
            f"{figure.label}: {figure.value:g} {figure.unit}, {figure.kind}, {figure.source}"
            for figure in section.figures
        ]
    return "\n".join(parts)


def figures_of(value: object) -> list[tuple[float, str]]:
    """Return value and source of every figure, wherever it stands."""
    if isinstance(value, dict):
        number = value.get("value", value.get("target_nm"))
        own = [(number, value["source"])] if "kind" in value and number is not None else []
        return own + [each for inner in value.values() for each in figures_of(inner)]
    if isinstance(value, list):
        return [each for inner in value for each in figures_of(inner)]
    return []


@pytest.mark.parametrize("name", ["delivery-van", "city-hatchback", "minibus"])
def test_every_figure_stands_on_the_sheet_with_its_kind_and_source(name: str) -> None:
    pack = from_toml(text_of(name))
    shown = sorted(
        (figure.value, "" if figure.source == "no source" else figure.source)
        for section in sheet_of(pack)
        for figure in section.figures
    )
    assert shown == sorted(figures_of(pack.model_dump(mode="json")))


@pytest.mark.parametrize("name", ["delivery-van", "city-hatchback", "minibus"])
def test_every_text_of_the_definition_stands_on_the_sheet(name: str) -> None:
    pack = from_toml(text_of(name))
    words = words_of(pack)
    texts = [
        *pack.cautions,
        *pack.sense_lead_order,
        *pack.bonding_points,
        *pack.vehicle_parts,
        *(point.where for point in pack.proof_points),
        *(point.where for point in pack.isolation_points),
        *(position for bolts in torque_lists(pack) for position in bolts.positions),
        pack.seal_test.source,
        pack.vehicle_text,
        pack.disconnect.label,
    ]
    assert [text for text in texts if text not in words] == []


def test_a_figure_without_source_says_so() -> None:
    assert "Dead below: 5 V, shop default, no source" in words_of(from_toml(text_of()))


def test_a_live_point_says_that_it_is_live_and_when_it_can_be_reached() -> None:
    words = words_of(from_toml(text_of()))
    assert "Disconnect socket, side A: live: M7 positive, with the pack closed." in words
    assert "String negative: live: M1 negative, only with the lid off." in words


def test_a_pack_without_plug_says_what_that_means() -> None:
    pack = from_toml(changed(put("disconnect", {"kind": "none"})))
    assert "treat the pack connector as live until proven" in words_of(pack)


def test_a_pack_without_seal_test_says_so() -> None:
    seal = {"method": "none", "source": "Workshop book, chapter 9.16"}
    assert "Method: none\nSource: Workshop book" in words_of(
        from_toml(changed(put("seal_test", seal)))
    )
