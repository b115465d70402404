"""The reasons of a verdict are in the plant's language, whoever is at the screen."""

from __future__ import annotations

from dataclasses import replace

from django.utils import translation

from records.people.plans import InForce
from tests.records.judging.made import in_force, instrument, judged, quillbrook


def in_spanish() -> InForce:
    """Quillbrook's plan as a plant that keeps its records in Spanish would have it."""
    plan = quillbrook().plan
    return in_force(replace(plan, plant=replace(plan.plant, language="es")))


def test_a_spanish_plants_reasons_are_spanish_from_first_to_last_word() -> None:
    """Sentence, side and limit; the numbers stand."""
    judgement = judged("raw-temperature", "47", in_spanish(), agitator_ran=False, **instrument())
    assert judgement.reason == (
        "Leído 47 °F: 2 °F por encima del límite de 45 °F. El agitador no funcionó durante 5 minutos, "
        "así que la lectura puede no valer para todo el tanque."
    )


def test_the_reader_s_language_changes_nothing() -> None:
    """A Spanish operator in an English plant writes an English record, and the other way round."""
    with translation.override("es"):
        english = judged("press-seals", "no")
    with translation.override("en"):
        spanish = judged("press-seals", "no", in_spanish())
    assert (english.reason, spanish.reason) == ("Answered no; wanted is yes.", "Respuesta: no; se espera sí.")


def test_the_limit_kept_with_the_numbers_speaks_the_same_language() -> None:
    """'45 °F or below' beside the number it was compared with."""
    assert judged("raw-temperature", "40", in_spanish()).numbers["limit"].endswith("°F o menos")
