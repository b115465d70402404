"""A recorder's file into blocks: all or nothing, once, only what is new, what contradicts beside it."""

from __future__ import annotations

import gzip
import uuid
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from plant.hazard_plan.content import TracedDef
from plant.process.trace_file import ChannelColumn, Mapping, TimeColumns
from records.deviations.errors import Refused
from records.ledger import files
from records.ledger.models import Entry, FileKept
from records.ledger.verify import verify
from records.traces import importing, incoming
from records.traces.blocks import between
from records.traces.models import TraceBlock, TraceFile, TraceSource, TraceUpload
from tests.conftest import Plant

pytestmark = pytest.mark.django_db
CHICAGO = ZoneInfo("America/Chicago")
START = datetime(2026, 3, 2, 6, 0, tzinfo=CHICAGO)
MAPPING = Mapping(
    "utf-8", ",", ".", 3, TimeColumns((0,)),
    (ChannelColumn(1, "T-12", "°F"), ChannelColumn(2, "T-04", "°F")), ("Time", "Hot", "Silo"),
)  # fmt: skip


def lines(rows: int, first: int = 0, hot: float = 162.0, **changed: str) -> bytes:
    """A file of one row a second; `changed` gives rows by number another text."""
    text = ["Time,Hot,Silo"]
    for at in range(first, first + rows):
        when = START + timedelta(seconds=at)
        text.append(changed.get(f"r{at}", f"{when:%Y-%m-%d %H:%M:%S},{hot + at % 7 / 10:.1f},38.{at % 5}"))
    return ("\n".join(text) + "\n").encode()


def sent(plant: Plant, data: bytes, name: str = "press.csv") -> TraceUpload:
    """A file as it arrives."""
    return incoming.receive(plant.actor("tomas"), name, [data[at : at + 1000] for at in range(0, len(data), 1000)])


def kept(plant: Plant, data: bytes, mapping: Mapping = MAPPING, name: str = "press.csv") -> tuple[TraceFile, bool]:
    """Sent and kept."""
    return importing.import_file(
        plant.actor("tomas"), sent(plant, data, name), mapping, "Press recorder", uuid.uuid4()
    )


def values(instrument: str) -> list[int]:
    """What is kept of an instrument, in order of time."""
    return between(instrument, START, START + timedelta(hours=30))[0].values.tolist()


@pytest.fixture
def later(plant: Plant) -> Plant:
    """The afternoon of the day that the files are of."""
    plant.at(START + timedelta(hours=30))
    return plant


def test_a_file_is_kept_whole(later: Plant) -> None:
    """Every sample of each mapped column, its bytes under their hash, its mapping remembered; the ledger fits."""
    data = lines(7200)
    row, again = kept(later, data)
    assert not again and (row.rows, row.samples_new, row.samples_known, row.contradicting) == (7200, 14400, 0, 0)
    assert values("T-12")[:3] == [1620, 1621, 1622] and len(values("T-04")) == 7200
    assert gzip.decompress(files.read(row.kept)) == data and FileKept.objects.filter(sha256=row.kept).exists()
    assert TraceBlock.objects.filter(file=row.number).count() == 4
    assert Mapping.from_plain(TraceSource.objects.get().mapping) == MAPPING
    assert (row.by_name, row.source, row.first_at) == (later.actor("tomas").name, "Press recorder", START)
    assert verify().good


def test_the_same_file_again_adds_nothing(later: Plant) -> None:
    """The same bytes read the same way: the record that is there, and no entry."""
    first, _again = kept(later, lines(600))
    before = Entry.objects.count()
    second, again = kept(later, lines(600), name="copy.csv")
    assert again and second.number == first.number and Entry.objects.count() == before


def test_a_file_that_overlaps_adds_what_is_new(later: Plant) -> None:
    """Samples known already are counted, not kept twice."""
    kept(later, lines(600))
    row, _again = kept(later, lines(600, first=300))
    assert (row.samples_new, row.samples_known, row.contradicting) == (600, 600, 0)
    assert len(values("T-12")) == 900


def test_what_contradicts_is_kept_beside(later: Plant) -> None:
    """The first value stays; the other one is there too, flagged."""
    kept(later, lines(60))
    row, _again = kept(later, lines(60, r30="2026-03-02 06:00:30,150.0,38.0"))
    assert row.contradicting == 1
    samples, beside = between("T-12", START, START + timedelta(hours=1))
    assert samples.values[30] == 1622 and beside.values.tolist() == [1500]


def test_a_file_that_contradicts_itself_keeps_all_it_says(later: Plant) -> None:
    """Three values for one moment: the first, and two beside it."""
    twice = "2026-03-02 06:00:05,162.5,38.0\n2026-03-02 06:00:05,161.0,38.0\n2026-03-02 06:00:05,160.0,38.0"
    row, _again = kept(later, lines(20, r5=twice))
    samples, beside = between("T-12", START, START + timedelta(hours=1))
    assert samples.values[5] == 1625 and sorted(beside.values.tolist()) == [1600, 1610]
    assert row.contradicting == 2 and verify().good


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"\x89PNG\r\n\x1a\n" + bytes(4000), ""),
        (b"Time,Hot,Silo\n", ""),
        (b"just words\nand more\n", ""),
        (lines(30).replace(b"2026-03-02", b"1970-01-01"), "1970"),
        (lines(30).replace(b"2026-03-02", b"2093-01-01"), "2093"),
        (gzip.compress(b"a" * 2_000_000, mtime=0), ""),
        (lines(30).replace(b"Hot", b"Hotter"), "header"),
    ],
)
def test_what_cannot_be_read_is_refused_whole(later: Plant, data: bytes, words: str) -> None:
    """With a sentence, and nothing of it kept."""
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        kept(later, data)
    assert words in str(refused.value.sentence) and len(str(refused.value.sentence)) > 20
    assert Entry.objects.count() == before and not TraceFile.objects.exists() and not TraceSource.objects.exists()


def test_an_empty_file_is_refused_when_it_is_sent(later: Plant) -> None:
    """Nothing is left on disk."""
    with pytest.raises(Refused):
        sent(later, b"")
    assert not TraceUpload.objects.exists()


@pytest.mark.parametrize(
    ("channel", "field"),
    [
        (ChannelColumn(1, "nothing", "°F"), "instrument_1"),
        (ChannelColumn(1, "T-12", "psi"), "unit_1"),
    ],
)
def test_what_does_not_fit_the_plan_is_refused_beside_its_column(
    later: Plant, channel: ChannelColumn, field: str
) -> None:
    """An unknown instrument, and a unit that it cannot have."""
    mapping = Mapping("utf-8", ",", ".", 3, TimeColumns((0,)), (channel,), ("Time", "Hot", "Silo"))
    with pytest.raises(Refused) as refused:
        kept(later, lines(30), mapping)
    assert refused.value.field == field and not TraceBlock.objects.exists()


def test_one_trace_has_one_unit(later: Plant) -> None:
    """°C after °F is refused; °C from the beginning is kept as it came."""
    kept(later, lines(30))
    other = Mapping(
        "utf-8", ",", ".", 3, TimeColumns((0,)), (ChannelColumn(1, "T-12", "°C"),), ("Time", "Hot", "Silo")
    )
    with pytest.raises(Refused) as refused:
        kept(later, lines(30, first=100), other)
    assert refused.value.field == "unit_1" and "°F" in str(refused.value.sentence)


def test_the_next_file_of_a_source_is_known(later: Plant) -> None:
    """By its header, columns and delimiter; another header is another source's."""
    kept(later, lines(30))
    known = importing.remembered(importing.look_at(sent(later, lines(30, first=900))))
    assert known is not None and known.name == "Press recorder"
    assert importing.remembered(importing.look_at(sent(later, lines(30).replace(b"Silo", b"Tank")))) is None


def test_what_nobody_goes_on_with_is_forgotten(later: Plant) -> None:
    """After a day the sent file is gone from the disk."""
    upload = sent(later, lines(30))
    later.at(START + timedelta(hours=60))
    incoming.forget_stale()
    assert not TraceUpload.objects.exists()
    with pytest.raises(Refused):
        incoming.open_upload(upload)


def test_signals_are_in_the_unit_one(plant: Plant) -> None:
    """What the plan calls a signal is offered with 1 and 0."""
    from records.people.plans import plan_in_force

    in_force = plan_in_force(START + timedelta(hours=1))
    assert in_force is not None
    from dataclasses import replace

    signal = TracedDef("fd", "Forward", "press-1", "forward flow", "pasteurizing")
    plan: Any = replace(in_force.plan, traced=(signal,))
    known = importing.known_instruments(replace(in_force, plan=plan))
    assert (known[0].code, known[0].unit) == ("fd", "1")
