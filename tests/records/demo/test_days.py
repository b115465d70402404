"""What happened in the three days is exactly what the scenario meant: nothing was forgotten by the way."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from plant.process.trace_blocks import unpack
from tests.records.demo.conftest import Ask

pytestmark = [pytest.mark.once, pytest.mark.slow]


def test_late_and_missed_are_the_planned_ones_and_no_other(ask: Ask) -> None:
    """Every other check that the plan made due was answered in time."""
    rows = ask(
        "SELECT what, monitoring_key, subject, due_at FROM records_transition WHERE what IN ('late', 'missed')"
        " ORDER BY due_at, what"
    )
    assert [(what, key, subject, due[:16]) for what, key, subject, due in rows] == [
        ("late", "condensate", "press-room", "2026-03-02 14:00"),
        ("late", "hand-sinks", "hand-sinks", "2026-03-03 19:20"),
        ("late", "pasteurized-temperature", "finished-2", "2026-03-03 19:30"),
        ("missed", "pasteurized-temperature", "finished-2", "2026-03-03 19:30"),
        ("late", "clothing", "locker-room", "2026-03-04 11:15"),
        ("missed", "clothing", "locker-room", "2026-03-04 11:15"),
        ("late", "foot-baths", "foot-baths", "2026-03-04 19:20"),
    ]


def test_out_of_limits_and_not_proven_are_the_planned_ones(ask: Ask) -> None:
    """No reading is out of limits by the way: a mistake in the plan or the invented ranges would show here."""
    rows = ask(
        "SELECT r.monitoring_key, r.subject, r.typed FROM records_verdict v JOIN records_reading r"
        " ON r.number = v.subject_number WHERE v.subject_kind = 'reading'"
        " AND v.outcome IN ('not met', 'not proven') ORDER BY r.number"
    )
    assert rows == [
        ("foot-baths", "foot-baths", "160"),
        ("ingredient-temperature", "ingredient-cooler", ""),
        ("raw-temperature", "silo-a", "46.4"),
        ("raw-temperature", "silo-a", "45.7"),
        ("preop", "packing-room", "no"),
        ("overrun", "freezer", "104"),
        ("cooler-temperature", "walk-in-cooler", "46.3"),
    ]


def test_three_deviations_are_left_open_and_only_their_lots_are_held(ask: Ask) -> None:
    """The silo, the missed tank and the outage are closed; cooler, count and press wait for the visitor.

    Both ice creams of the third day wait for their results beside.
    """
    opened = ask(
        "SELECT d.subject, c.number IS NULL FROM records_deviation d"
        " LEFT JOIN records_deviationclosing c ON c.deviation = d.number ORDER BY d.number"
    )
    ((tp,),) = ask("SELECT 'sample ' || number FROM records_sample WHERE code = '0302-6'")
    assert opened == [("silo-a", 0), ("finished-2", 0), ("plant", 0), ("walk-in-cooler", 1), (tp, 1), ("press-1", 1)]
    held = ask(
        "SELECT h.vessel, t.code FROM records_hold h LEFT JOIN records_holdlift l ON l.hold = h.number"
        " LEFT JOIN records_lot t ON t.id = h.lot WHERE l.number IS NULL ORDER BY h.number"
    )
    assert held == [
        ("", "SH 260304"), ("", "RC 260304"), ("walk-in-cooler", None), ("", "TP 260302"), ("press-1", None),
    ]  # fmt: skip


def test_each_hold_reached_one_lot(ask: Ask) -> None:
    """What left the vessel before the window is not held: one lot for each deviation that holds."""
    rows = ask("SELECT vessel, count(*) FROM records_hold GROUP BY vessel ORDER BY vessel")
    # Packed: both ice creams that wait for their results, the milk of Monday with its late count, what came back of it.
    assert rows == [("", 4), ("finished-2", 1), ("press-1", 1), ("silo-a", 1), ("walk-in-cooler", 1)]


def test_what_came_back_was_held_and_destroyed(ask: Ask) -> None:
    """Jugs of Monday, back on Tuesday: held as a lot of their own, ended by a disposition that two people signed."""
    assert ask(
        "SELECT r.code, r.quantity_typed, d.what, d.by_name, l.by_name FROM records_productreturned r"
        " JOIN records_hold h ON h.lot = r.part JOIN records_holdlift l ON l.hold = h.number"
        " JOIN records_disposition d ON d.number = l.disposition"
    ) == [("WM 260302", "13.5", "destroy", "Wren Castell", "Odile Marsh")]


def test_everything_that_left_names_recipient_packaging_and_carrier(ask: Ask) -> None:
    """21 CFR 1.345(a): address, telephone, e-mail, how it is packed, by whom it was carried."""
    empty = " OR ".join(f"coalesce({one}, '') = ''" for one in ("address", "phone", "email", "packed_as", "carrier"))
    assert ask("SELECT count(*) FROM records_dispatch") == [(2,)]
    assert ask(f"SELECT code FROM records_dispatch WHERE {empty}") == []


def test_three_seconds_that_no_round_could_see_are_found(ask: Ask) -> None:
    """The press on the third day; on the second it fell too, and was diverted: nothing to find there."""
    rows = ask(
        "SELECT about, cause, outcome, extreme, seconds FROM records_tracefinding WHERE place = 'press-1'"
        " AND cause = 'process' ORDER BY number"
    )
    assert rows == [("temperature", "process", "not met", "160.6", "4.000")]


def test_each_run_of_the_press_is_judged_second_by_second(ask: Ask) -> None:
    """The first two days are met throughout; of the third what was below, and what was silent, is told apart."""
    rows = ask("SELECT counted FROM records_tracejudged WHERE place = 'press-1' ORDER BY number")
    first, second, third = (json.loads(counted) for (counted,) in rows)
    assert set(first) == set(second) == {"met"} and set(third) == {"met", "not met", "not proven"}
    assert third["not met"] == "4.000"


def test_silence_of_an_outage_has_the_outages_deviation(ask: Ask) -> None:
    """Three tanks and the press were silent for twenty minutes: no deviation of their own."""
    silent = ask("SELECT place FROM records_tracefinding WHERE cause = 'nothing recorded' ORDER BY place")
    assert silent == [("finished-1",), ("finished-2",), ("press-1",), ("silo-a",)]


def test_the_silo_is_asked_again_until_two_readings_are_in_limits(ask: Ask) -> None:
    """46.4, 45.7, 43.8, 41.5 °F at half-hour steps, then no more."""
    rows = ask(
        "SELECT typed FROM records_reading WHERE monitoring_key = 'raw-temperature' AND subject = 'silo-a'"
        " AND observed_at >= '2026-03-03 23:00' AND observed_at < '2026-03-04 06:00' ORDER BY number"
    )
    assert [typed for (typed,) in rows] == ["46.4", "45.7", "43.8", "41.5"]


def test_a_slip_of_the_finger_stands_beside_what_replaced_it(ask: Ask) -> None:
    """34.7 is amended to 37.4 with its reason; both are kept."""
    rows = ask(
        "SELECT o.typed, n.typed, n.amend_reason FROM records_reading n JOIN records_reading o ON o.number = n.amends"
    )
    assert rows == [("34.7", "37.4", "Typed the digits the wrong way round.")]


def test_one_reading_comes_from_paper_and_one_could_not_be_taken(ask: Ask) -> None:
    """Form B-0117 was keyed an hour later; the ingredient cooler's thermometer was dead."""
    paper = ask("SELECT paper_form, received_at > observed_at FROM records_reading WHERE paper_form <> ''")
    assert paper == [("B-0117", 1)]
    assert len(ask("SELECT 1 FROM records_reading WHERE not_taken <> ''")) == 1


def test_every_day_is_closed_once_and_signed_by_two(ask: Ask) -> None:
    """One revision each: nothing of a day was recorded after it was closed."""
    assert ask("SELECT plant_day, revision FROM records_dayclosing ORDER BY plant_day") == [
        ("2026-03-02", 1),
        ("2026-03-03", 1),
        ("2026-03-04", 1),
    ]
    signed = ask(
        "SELECT signed_as, by_name, count(*), max(own_work) FROM records_sheetsignature GROUP BY 1, 2 ORDER BY 1"
    )
    assert signed == [("operator in charge", "Tomas Reed", 3, 0), ("supervisor", "Wren Castell", 3, 0)]


def test_nothing_of_a_closed_day_came_after_its_closing(ask: Ask) -> None:
    """Not even what the watch told: else the sheet would ask for another revision."""
    late = ask(
        "SELECT t.key FROM records_transition t JOIN records_dayclosing c ON t.number > c.number"
        " AND t.observed_at >= datetime(c.plant_day, '+11 hours')"
        " AND t.observed_at < datetime(c.plant_day, '+35 hours')"
    )
    assert late == []


def test_every_reading_of_an_operator_is_under_a_signed_round(ask: Ask) -> None:
    """As many readings are signed as there are."""
    signed = sum(number for (number,) in ask("SELECT json_array_length(readings) FROM records_roundsigned"))
    assert signed == ask("SELECT count(*) FROM records_reading")[0][0]


def test_the_first_entry_says_that_the_plant_is_invented(ask: Ask) -> None:
    """Marked for good."""
    assert ask("SELECT plant_name, invented, number FROM records_installation") == [("Quillbrook Creamery", 1, 1)]


def test_a_pasteurizers_verdict_names_the_row_of_temperature_and_time(ask: Ask) -> None:
    """After the run's first reading of the test of record; milk, raised products and mix each by their own row."""
    rows = {one for (one,) in ask("SELECT DISTINCT json_extract(numbers, '$.row') FROM records_verdict")} - {None}
    assert rows == {"161 °F for 15 s", "166 °F for 15 s", "175 °F for 25 s"}
    (wrong,) = ask(
        "SELECT count(*) FROM records_verdict WHERE subject_kind = 'reading' "
        "AND json_extract(numbers, '$.row') IS NOT NULL AND json_extract(numbers, '$.hold_reading') IS NULL"
    )
    assert wrong == (0,)


def test_the_late_count_is_the_only_result_out_of_limits(ask: Ask) -> None:
    """14 coliform of Monday's two-percent milk, read on Wednesday; everything else that came in is in limits."""
    rows = ask(
        "SELECT r.sample_code, r.typed, v.outcome, julianday(r.observed_at) - julianday(s.observed_at) > 1.9"
        " FROM records_labresult r JOIN records_sample s ON s.number = r.sample"
        " LEFT JOIN records_verdict v ON v.subject_kind = 'laboratory result' AND v.subject_number = r.number"
        " WHERE s.kind <> 'control plate' AND v.outcome IS NOT 'met' ORDER BY r.number"
    )
    assert rows == [("0302-6", "14", "not met", 1)]
    assert ask("SELECT count(*) FROM records_sample WHERE kind = 'retained'") == [(1,)]


def test_each_run_of_the_press_has_its_paper_chart(ask: Ask) -> None:
    """One a day, two on the second; each on before its run and off after it, signed by whoever took it off."""
    rows = ask(
        "SELECT o.chart_number, o.put_on_at, f.taken_off_at, f.by_initials, s.by_initials FROM records_charton o"
        " JOIN records_chartoff f ON f.chart = o.number JOIN records_chartsigned s ON s.chart = o.number"
        " ORDER BY o.number"
    )
    assert [(number, on[:16], off[:16], by, signed) for number, on, off, by, signed in rows] == [
        ("101", "2026-03-02 13:54", "2026-03-02 20:39", "TR", "TR"),
        ("102", "2026-03-03 13:40", "2026-03-03 14:40", "IA", "IA"),
        ("103", "2026-03-03 14:40", "2026-03-03 16:53", "IA", "IA"),
        ("104", "2026-03-04 13:36", "2026-03-04 15:47", "IA", "IA"),
    ]
    runs = ask("SELECT min(started_at), max(ended_at) FROM records_movement WHERE via = 'press-1'")
    assert rows[0][1] < runs[0][0] and ask("SELECT count(*) FROM records_chartpastspan") == [(0,)]


def test_recorder_never_reads_above_what_was_read_at_a_change_of_chart(ask: Ask) -> None:
    """Every change is made on the hot press: the trace of that minute is no higher than the indicating thermometer."""
    changes = ask("SELECT put_on_at, typed FROM records_charton UNION SELECT taken_off_at, typed FROM records_chartoff")
    assert len(changes) == 7  # the second chart of the second day went on as the first came off
    blocks = [unpack(data) for (data,) in ask("SELECT data FROM records_traceblock WHERE instrument = 'tr-press-1'")]
    for at, typed in changes:
        moment = datetime.fromisoformat(at).replace(tzinfo=UTC).timestamp() * 1000
        near = [
            Decimal(int(value)).scaleb(-one.places)
            for one in blocks
            for value in one.values[abs(one.times_ms - moment) <= 30_000]
        ]
        assert len(near) == 61 and max(near) <= Decimal(typed) <= max(near) + 1, at


def test_each_blend_is_what_its_own_weights_say_and_is_tested_before_the_press(ask: Ask) -> None:
    """Fat by the masses weighed, added up here, is what the bench found and what the product's name says."""
    wanted = {"Two-percent milk": 2.0, "Ice cream mix": 12.0}
    sheets = ask("SELECT number, batch, product_name, lines FROM records_batchsheet ORDER BY number")
    assert [one[1] for one in sheets] == ["118", "119", "121"]
    for number, batch, product, lines in sheets:
        told = json.loads(lines)
        weighed = ask("SELECT line, net, observed_at FROM records_batchaddition WHERE sheet = ?", number)
        assert {one[0] for one in weighed} == set(range(len(told)))
        mass = sum(float(net) for _line, net, _at in weighed)
        fat = sum(float(net) * float(told[line]["fat"] or 0) for line, net, _at in weighed) / mass
        (found, sampled) = ask("SELECT fat, observed_at FROM records_blendtest WHERE sheet = ?", number)[0]
        assert fat == pytest.approx(wanted[product], abs=0.05) and float(found) == pytest.approx(fat, abs=0.1), batch
        (pressed,) = ask(
            "SELECT min(started_at) FROM records_movement WHERE source = 'blend-vat' AND via = 'press-1'"
            " AND started_at > ?", max(at for _line, _net, at in weighed),
        )[0]  # fmt: skip
        assert max(at for _line, _net, at in weighed) < sampled < pressed


def test_vitamins_flavors_and_papers_are_in_order(ask: Ask) -> None:
    """Each vitamin lies between its bounds and somebody else looked; a flavor says why; each lot has a certificate."""
    vitamins = ask("SELECT vitamin, iu_per_quart, low, high, number FROM records_vitaminadded ORDER BY number")
    assert [one[0] for one in vitamins] == ["A", "D", "A", "D"]
    assert all(float(low) <= float(iu) <= float(high) for _vitamin, iu, low, high, _number in vitamins)
    looked = ask("SELECT addition FROM records_secondlook ORDER BY addition")
    assert [one[0] for one in looked] == [one[4] for one in vitamins]
    assert ask("SELECT why, why_words != '' FROM records_flavoradded") == [("heated by the supplier", 1)]
    papers = ask(
        "SELECT count(*), count(r.approval), count(f.sha256) FROM records_ingredientreceived r"
        " LEFT JOIN records_filekept f ON f.sha256 = r.certificate"
    )
    assert papers == [(7, 7, 7)]


def test_foreign_matter_is_looked_for_as_the_plan_asks(ask: Ask) -> None:
    """Each run of the filler: challenged before it begins, each hour and at its end, its parts counted; each load
    its strainer. Counted from the movements, not from the checks.
    """
    runs = ask(
        "SELECT m.started_at, e.ended_at FROM records_movement m JOIN records_movementend e ON e.movement = m.number"
        " WHERE m.via = 'filler'"
    )
    loads = ask("SELECT number FROM records_movement WHERE source = '' AND target = 'silo-a'")
    challenges = ask('SELECT observed_at, "when", good FROM records_detectorchallenge')
    hours = 0
    for started, ended in runs:
        hours += int((_time(ended) - _time(started)).total_seconds() - 1) // 3600
        before = [at for at, when, _good in challenges if when == "start" and 0 <= _minutes(at, started) <= 15]
        after = [at for at, when, _good in challenges if when == "end" and 0 <= _minutes(ended, at) <= 15]
        assert len(before) == len(after) == 1, started
    kinds = [when for _at, when, _good in challenges]
    assert [kinds.count(one) for one in ("start", "hourly", "end")] == [len(runs), hours, len(runs)]
    assert all(good for _at, _when, good in challenges) and len(runs) == 7
    totals = "count(*), min(good), count(reading)"
    looked = ask(f"SELECT check_key, {totals} FROM records_strainerlook GROUP BY 1 ORDER BY 1")
    counted = ask(f"SELECT place, {totals} FROM records_partscount GROUP BY 1 ORDER BY 1")
    assert {key: number for key, number, _good, _reading in looked}["load-strainer"] == len(loads)
    assert all(good == 1 and answered == number for _key, number, good, answered in looked + counted)
    assert [(place, number) for place, number, _good, _reading in counted] == [("filler", len(runs)), ("freezer", 2)]


def _time(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _minutes(earlier: str, later: str) -> float:
    return (_time(later) - _time(earlier)).total_seconds() / 60
