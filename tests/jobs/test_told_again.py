"""What a log's entry keeps in English is told again, so that it can be translated."""

import pytest
from django.utils import translation
from django.utils.translation import gettext

from jobs.report.wording import in_our_language
from jobs.texts.again import told_again
from packs.calculation_list import find
from packs.calculations import computed
from packs.words import Kept, translated
from tests.marking import marking
from tests.packs.reference_cases import reference_cases

LOGS = {label: given for label, name, given in reference_cases() if name == "cycle"}


@pytest.mark.parametrize("label", LOGS)
def test_a_kept_sentence_is_translated_like_the_one_that_was_told(label: str) -> None:
    result = computed(find("cycle"), LOGS[label]).result
    said = [each.text for each in (*result.advice, *result.warnings)]
    said += [module.why for module in result.replaced]
    with marking():
        for text in said:
            again = told_again(Kept(str(text)))
            assert again == text
            assert translated(again, gettext) == translated(text, gettext)


GERMAN = {
    "Cell 41 in M7 has a high resistance and stands apart at rest.": (
        "Zelle 41 in M7 hat einen hohen Widerstand und weicht in Ruhe ab."
    ),
    "1 row was left out because no time could be read there.": (
        "1 Zeile wurde ausgelassen, weil dort keine Zeit zu lesen war."
    ),
    "It stands apart from the other cells by +33.1 mV at the end of the charge and -40.0 mV at the "
    "lowest point; 30 mV are allowed.": (
        "Es weicht von den übrigen Zellen ab um +33.1 mV am Ende der Ladung und -40.0 mV am "
        "tiefsten Punkt; 30 mV sind erlaubt."
    ),
    "Something no program says: M7.": "Something no program says: M7.",
}


@pytest.mark.parametrize("sentence", GERMAN)
def test_a_kept_sentence_is_german_on_a_german_page(sentence: str) -> None:
    with translation.override("de"):
        assert in_our_language(Kept(sentence)) == GERMAN[sentence]
    assert in_our_language(Kept(sentence)) == sentence
