"""Sentences that remember their pattern, so that another language can say them again."""

from __future__ import annotations

from plant.process.said import Within, again, say

SPANISH = {
    "Read %(value)s: %(verdict)s.": "Lectura %(value)s: %(verdict)s.",
    "meets %(limit)s": "cumple %(limit)s",
    "%(name)s: %(text)s": "%(name)s: %(text)s",
    "Indicating thermometer": "Termómetro indicador",
    "100 % whole": "100 % entero",
}


def to_spanish(text: str) -> str:
    """A table of patterns."""
    return SPANISH[text]


def test_a_said_sentence_is_its_english_text() -> None:
    """Whoever does not translate sees plain text."""
    assert say("meets %(limit)s", limit="45 °F") == "meets 45 °F"


def test_it_is_said_again_with_its_values_inside_one_another() -> None:
    """The inner sentence is translated too; numbers and names stand."""
    sentence = say("Read %(value)s: %(verdict)s.", value="40 °F", verdict=say("meets %(limit)s", limit="45 °F"))
    assert again(sentence, to_spanish) == "Lectura 40 °F: cumple 45 °F."


def test_a_sentence_within_another_begins_small_in_both_languages() -> None:
    """After a colon."""
    inner = say("Read %(value)s: %(verdict)s.", value="40 °F", verdict=say("meets %(limit)s", limit="45 °F"))
    whole = say("%(name)s: %(text)s", name=say("Indicating thermometer"), text=Within(inner))
    assert whole == "Indicating thermometer: read 40 °F: meets 45 °F."
    assert again(whole, to_spanish) == "Termómetro indicador: lectura 40 °F: cumple 45 °F."


def test_plain_text_and_percent_signs_stand_as_they_are() -> None:
    """A place's name is nobody's pattern; a sentence without places is not filled."""
    assert again("Tanque 100 % nuevo %(x)s", to_spanish) == "Tanque 100 % nuevo %(x)s"
    assert again(say("100 % whole"), to_spanish) == "100 % entero"
