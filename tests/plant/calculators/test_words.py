"""Rows are understood in English and in the page's language, and answers are in the page's language."""

from __future__ import annotations

import re

import pytest
from django.utils import translation

from plant.calculators import calculators, words
from plant.calculators.pasteurization_asks import KINDS
from plant.calculators.pasteurizer_setups import OF_THE_ROWS
from plant.calculators.typed import in_words
from plant.calculators.working import Working
from plant.process.errors import CalculationError
from plant.process.overrun import BULKY_FACTORS
from plant.process.pasteurization import Homogenizer, ProductClass
from plant.process.sampling_plans import read_count
from plant.rules import keys, rule_set
from tests.plant.calculators.trying import examples, texts, worked

pytestmark = pytest.mark.once

WITH_ROWS = sorted(key for key, one in calculators().items() if any(ask.kind == "rows" for ask in one.asks))
WITH_WORDS = sorted(
    (key, ask.name, place) for key, one in calculators().items() for ask in one.asks for place in ask.words
)
NUMBER = re.compile(r"\d+(?:[.,]\d+)*")
SOURCES = re.compile(r"https?://\S+|Pasteuriser holding section, holding time calculation")  # titles stay as printed
KEYS = {word for key, name, place in WITH_WORDS for word in calculators()[key].ask(name).words[place]}


@pytest.fixture(autouse=True)
def _spanish():
    with translation.override("es"):
        yield


def shown(key: str) -> dict[str, str]:
    """What the page of a calculator begins with, in its language."""
    return {one.name: one.shown() for one in calculators()[key].asks}


def said(working: Working) -> list[str]:
    """Everything that a working says, in the page's language, in its order."""
    return [in_words(one) for one in texts(working)]


def numbers(working: Working) -> list[list[str]]:
    """The numbers of each text."""
    return [NUMBER.findall(one) for one in said(working)]


@pytest.mark.parametrize("key", WITH_ROWS)
def test_the_example_as_shown_gives_the_answer_of_the_english_one(key: str) -> None:
    """Verdict, every number of every step and cell."""
    english, spanish = worked(key), worked(key, **shown(key))
    assert spanish.verdict == english.verdict and numbers(spanish) == numbers(english)
    with translation.override("en"):
        assert shown(key).keys() == examples(key).keys()
        assert numbers(worked(key, **shown(key))) == numbers(worked(key))


@pytest.mark.parametrize(("key", "name", "place"), WITH_WORDS)
def test_every_word_is_read_in_both_languages_in_any_case(key: str, name: str, place: int) -> None:
    """As it is shown, in capitals, without accents, with a value or in a list; and no two words mean the same."""
    ask = calculators()[key].ask(name)
    for word in ask.words[place]:
        for typed in (word, words.shown_word(word), words.shown_word(word).upper(), words.folded(word)):
            (row,) = ask.read("; ".join(typed if one == place else "" for one in range(len(ask.columns))))
            assert words.known(row[place], ask.words[place]) == word
        assert not {";", ","} & set(words.shown_word(word))


@pytest.mark.parametrize(("key", "name", "place"), WITH_WORDS)
def test_what_is_shown_reads_as_its_key(key: str, name: str, place: int) -> None:
    """A part of the example goes there and back."""
    ask = calculators()[key].ask(name)
    for line in ask.example.splitlines():
        part = line.split(";")[place].strip()
        assert words.in_keys(words.in_page_words(part, ask.words[place]), ask.words[place]) == part


@pytest.mark.parametrize(("key", "name", "place"), WITH_WORDS)
def test_the_words_that_a_help_names_are_those_that_are_read(key: str, name: str, place: int) -> None:
    """Of every key that the English help or column names, a translated one names the word that is understood."""
    ask = calculators()[key].ask(name)
    for told in (ask.help, ask.columns[place]):
        with translation.override("en"):
            english = str(told)
        here = words.folded(str(told))
        translated = [one for one in ask.words[place] if words.shown_word(one) != one]
        for word in translated if here != words.folded(english) else ():
            named = re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", english)
            assert not named or words.folded(words.shown_word(word)) in here


SETUP = "Leche; 161.5 °F; 16.4 s; 2025-12-02; {seals}; {classes}; {homogenizer}; 28 L; 5000 L/h"


@pytest.mark.parametrize("seals", ["sí", "SI", "Sí", "yes"])
@pytest.mark.parametrize("classes", ["leche", "Leche, elevada", "milk, elevada", "leche, ponche de huevo"])
@pytest.mark.parametrize("homogenizer", ["en marcha", "running"])
def test_a_set_up_is_read_in_spanish(seals: str, classes: str, homogenizer: str) -> None:
    """And its answer names the class in Spanish; broken seals still speak against it."""
    row = {"setups": SETUP.format(seals=seals, classes=classes, homogenizer=homogenizer), "product": "milk"}
    found = worked("pasteurizer_setups", **row)
    assert found.verdict == "met" and "leche" in in_words(found.answer) and "milk" not in in_words(found.answer)
    broken = row | {"setups": SETUP.format(seals="No", classes=classes, homogenizer=homogenizer)}
    assert worked("pasteurizer_setups", **broken).verdict == "not met"


def test_contents_are_read_in_spanish() -> None:
    """'grasa' is fat in rows and in targets, whichever language each is in."""
    spanish = {"streams": "entera; grasa 5.0; ; ; \npolvo; Grasa 0.5; ; ; ", "targets": "grasa; 3.0; 3.0"}
    mixed = {"streams": "entera; fat 5.0; ; ; \npolvo; grasa=0.5 %; ; ; ", "targets": "FAT; 3.0; 3.0"}
    found, other = worked("standardizing", **spanish), worked("standardizing", **mixed)
    assert said(found) == said(other)
    assert "grasa, kg" in said(found) and not any(re.search(r"\bfat\b", one) for one in said(found))


def test_a_wash_is_read_in_spanish() -> None:
    """Quantities of the plan in Spanish, of the record in English."""
    plan = {"plan": "enjuague; Tiempo; 3; ; min\nenjuague; CAUDAL; 5; ; L/h", "record": (
        "enjuague; time; 4; min\nenjuague; flow; 6; L/h"
    )}  # fmt: skip
    found = worked("washing", **plan)
    assert [(in_words(row[1]), row[2]) for row in found.tables[0].rows] == [("tiempo", "met"), ("caudal", "met")]


@pytest.mark.parametrize(
    ("key", "changes"),
    [
        ("pasteurizer_setups", {"setups": SETUP.format(seals="quizás", classes="leche", homogenizer="en marcha")}),
        ("pasteurizer_setups", {"setups": SETUP.format(seals="sí", classes="queso", homogenizer="en marcha")}),
        ("pasteurizer_setups", {"setups": SETUP.format(seals="", classes="leche", homogenizer="en marcha")}),
        ("overrun", {"bulky": "aserrín; 3"}),
        ("washing", {"plan": "enjuague; velocidad; 3; ; min"}),
        ("sampling_plans", {"results": "quizás"}),
    ],
)
def test_what_is_no_word_is_refused_with_the_words_of_the_page(key: str, changes: dict[str, str]) -> None:
    """Nothing is guessed; the refusal can be said in the page's language."""
    with pytest.raises(CalculationError) as refused:
        worked(key, **changes)
    sentence = in_words(refused.value.sentence)
    assert sentence and not re.search(r"\b(?:yes|milk|time|is not|number)\b", sentence)


@pytest.mark.parametrize("key", WITH_ROWS)
def test_no_key_stands_in_an_answer_where_the_page_has_a_word_for_it(key: str) -> None:
    """Fat, milk, time … are said in the page's language."""
    english = {one for one in KEYS if not re.search(rf"\b{one}\b", words.shown_word(one), re.IGNORECASE)}
    told = re.compile(rf"(?<![\w-])(?:{'|'.join(sorted(map(re.escape, english), key=len, reverse=True))})(?![\w-])")
    names = [words.shown_word(name) for ask in calculators()[key].asks for name in ask.names]
    own = re.compile("|".join([SOURCES.pattern, *sorted(map(re.escape, names), key=len, reverse=True)]))
    assert not [one for one in said(worked(key, **shown(key))) if told.search(own.sub("", one))]


def test_a_persons_own_name_is_not_changed() -> None:
    """A component or stream that only begins like a word stays as typed, in a list with words too."""
    assert words.in_keys("grasa de coco 30, grasa 4", words.CONTENTS) == "grasa de coco 30, fat 4"
    assert words.in_keys("Fat 4", words.CONTENTS) == "Fat 4"
    assert words.in_keys("x" * 20_000, words.CONTENTS) == "x" * 20_000


def test_words_are_those_of_the_calculations() -> None:
    """A class, a kind or a quantity that is added to a calculation is not forgotten here."""
    assert set(words.CLASSES) == {one.value for one in ProductClass}
    assert set(words.HOMOGENIZER) == {one.value for one in Homogenizer}
    assert set(words.BULKY) == set(BULKY_FACTORS) and set(words.PRODUCTS) == set(KINDS)
    assert {rule_set(key).caution for key in keys()} == set(OF_THE_ROWS)
    assert [read_count(one) for one in words.RESULTS] == [read_count("absent")] * 3 + [read_count("present")] * 3
