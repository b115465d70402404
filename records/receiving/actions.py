"""The acts of receiving: each keeps what happened to a load, once for its form, with what follows from it.

What has happened can always be recorded. Only unloading that has not begun is refused, with what stands against it.
"""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import datetime
from itertools import zip_longest

from django.utils.translation import gettext as _

from plant import clock
from plant.process.pickup import COLDEST_F, WARMEST_F
from plant.process.properties import between
from plant.process.properties.usual import IN_A_BLEND
from plant.process.residue import CONFIRM, FOUND, INITIAL, NOT_FOUND, NOT_VALID, REPEAT, Residue
from plant.process.units import FAHRENHEIT, exact, plain, rounded
from records.checks.photos import Photo
from records.deviations.errors import Refused
from records.flow.actions import EndData, MovementData, end_if_running, end_too_full, record_movement, too_full
from records.flow.choices import may_be_raw, product_of
from records.flow.common import not_ahead, plan_at, same_or_different, typed_number
from records.flow.densities import kind_of, nominal
from records.flow.errors import Several
from records.flow.models import Movement, MovementEnd
from records.ledger import files
from records.ledger.actions import Actor, act
from records.people.plans import InForce
from records.receiving import consequences, farms, outside, pickups, state
from records.receiving.data import ArriveData, LinkData, Pickup, SayData, ScreenData, UnloadData, UnloadedData
from records.receiving.models import (
    ARRIVED,
    MEANS,
    NO,
    NOT_SEEN,
    SCREENED,
    STEPS,
    UNLOADED,
    UNLOADING,
    YES,
    LoadEvent,
    LoadPhoto,
)
from records.receiving.state import Load
from records.run_rows import acts
from records.run_rows import queries as run_queries
from records.run_rows.models import ENDED, NOTE, UNUSUAL

STAGES = (INITIAL, REPEAT, CONFIRM)
RESULTS = (NOT_FOUND, FOUND, NOT_VALID)
LOOKS = ("good", "off", "dirt seen", NOT_SEEN)
PLAIN = (*STEPS, UNUSUAL, NOTE, ENDED)
_PAPER = (
    "means", "tanker", "ticket", "pounds_typed", "farms", "seals", "seals_whole", "washed_at", "wash_place", "wash_by",
    "agitated_typed", "looks", "sampler", "sampler_license", "sample",
)  # fmt: skip
_SCREEN = (
    "stage", "result", "kit", "kit_lot", "kit_expires", "negative_control", "positive_control", "analyst",
    "certificate",
)  # fmt: skip
SAID = (*acts.SAID, *_PAPER, *_SCREEN, "whom")
_COMPUTED = ("place_name", "product_name", "pounds", "gallons", "agitated_min")
MOST_FARMS = 40
# More than any tanker on the road carries, trailers included: common practice, no source.
MOST_POUNDS = 200_000


def arrive(by: Actor, data: ArriveData) -> LoadEvent:
    """A load at the bay, with its paper. Raises Refused beside the field, DifferentContent."""
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    row = acts.new_row(LoadEvent, None, data.place, ARRIVED, data.happened_at, data.form_id, in_force)
    _fill_paper(row, data, in_force)
    with act(by) as a:
        if saved := acts.saved_before(by, row, SAID):
            return saved
        a.write(row, observed_at=row.happened_at)
        consequences.follow_farms(a, acts.found(LoadEvent, row.number), in_force)
    return row


def screen(by: Actor, data: ScreenData) -> LoadEvent:
    """A residue test kept; a positive holds what was unloaded, a result that found nothing ends what waited for it."""
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    load = acts.found(LoadEvent, data.run)
    row = acts.new_row(LoadEvent, load.number, load.place, SCREENED, data.happened_at, data.form_id, in_force)
    _fill_screen(row, data, load)
    with act(by) as a:
        if saved := acts.saved_before(by, row, SAID):
            return saved
        acts.in_its_time(acts.found(LoadEvent, data.run), row)
        a.write(row, observed_at=row.happened_at)
        load = acts.found(LoadEvent, data.run)
        consequences.follow(a, load, row, in_force)
        consequences.lift_pending(a, load, row)
        begun = load.last(UNLOADING)
        if begun is not None:
            consequences.answer_plan(by, load, _vessel(begun), max(row.happened_at, begun.happened_at), in_force)
    return row


def keep_tag(by: Actor, load: int, photo: Photo, note: str, form_id: uuid.UUID) -> LoadPhoto:
    """Keep a photo of the wash tag: its bytes before the act, their entry and the photo's together in it."""
    found = acts.found(LoadEvent, load)
    sha256 = files.put(photo.data)
    row = LoadPhoto(form_id=form_id, load=found.number, file=sha256, note=note.strip())
    with act(by) as a:
        if saved := LoadPhoto.objects.filter(form_id=form_id).first():
            return same_or_different(saved, row, ("load", "file", "note"), by)
        files.note(a, sha256, photo.name, photo.mime)
        return a.write(row)


def unload(by: Actor, data: UnloadData) -> LoadEvent:
    """Unloading begun: its row and the movement out of the tanker in one act.

    With `begins_now` whatever stands against it refuses it (Several). What flows without a result is held until there
    is one, with all that it flows into. Raises as `arrive`.
    """
    happened_at = clock.now() if data.begins_now else data.happened_at
    not_ahead(happened_at, "happened_at")
    in_force = plan_at(happened_at)
    load = acts.found(LoadEvent, data.run)
    row = acts.new_row(LoadEvent, load.number, load.place, UNLOADING, happened_at, data.form_id, in_force)
    row.product, row.product_name, row.words = load.first.product, load.first.product_name, data.words.strip()
    with act(by) as a:
        again = LoadEvent.objects.filter(by_id=by.person_id, form_id=data.form_id).first()
        if again is not None:
            row.movement, row.happened_at = again.movement, again.happened_at if data.begins_now else happened_at
            saved = acts.saved_before(by, row, SAID)
            assert saved is not None  # found just above
            record_movement(by, _movement(data, load, row.happened_at), load=load.number)
            return saved
        load = acts.found(LoadEvent, data.run)
        acts.in_its_time(load, row)
        if state.state_at(load, happened_at) == "unloading":
            raise Refused(_("By this load's record it is being unloaded then: say first when that ended."))
        if data.begins_now and (told := pickups.against(load, happened_at, in_force)):
            raise Several(told)
        moved = record_movement(by, _movement(data, load, happened_at), load=load.number)
        row.movement, row.happened_at = moved.number, moved.started_at
        a.write(row, observed_at=row.happened_at)
        load = acts.found(LoadEvent, data.run)
        consequences.follow(a, load, row, in_force)
        consequences.follow_farms(a, load, in_force)
        consequences.answer_plan(by, load, data.target, row.happened_at, in_force)
    return row


def unloaded(by: Actor, data: UnloadedData) -> LoadEvent:
    """Unloading ended: the movement ends with the ticket's pounds, or the quantity said. Raises as `arrive`."""
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    load = acts.found(LoadEvent, data.run)
    row = acts.new_row(LoadEvent, load.number, load.place, UNLOADED, data.happened_at, data.form_id, in_force)
    row.words = data.words.strip()
    with act(by) as a:
        again = LoadEvent.objects.filter(by_id=by.person_id, form_id=data.form_id).first()
        if again is not None:
            row.movement = again.movement
            if saved := acts.saved_before(by, row, SAID):
                return saved
        load = acts.found(LoadEvent, data.run)
        acts.in_its_time(load, row)
        begun = load.last(UNLOADING)
        if state.state_at(load, data.happened_at) != "unloading" or begun is None or begun.movement is None:
            raise Refused(_("By this load's record nothing was being unloaded then."), "happened_at")
        row.movement = begun.movement
        end_if_running(by, begun.movement, _end_data(load, data))
        return a.write(row, observed_at=row.happened_at)


def link(by: Actor, data: LinkData) -> LoadEvent:
    """Raw milk that the book has without a load was this load's: it takes the load's result, or waits for it.

    Writes that unloading began, and ended where the movement has its end. Raises as `arrive`.
    """
    load = acts.found(LoadEvent, data.run)
    line = outside.line_of(data.movement)
    if not line or not outside.brings_raw_milk(line[-1]):
        raise Refused(_("Choose a movement that brought raw milk in from outside."), "movement")
    moved = line[-1]
    in_force = plan_at(moved.started_at)
    row = acts.new_row(LoadEvent, load.number, load.place, UNLOADING, moved.started_at, data.form_id, in_force)
    row.product, row.product_name, row.words = load.first.product, load.first.product_name, data.words.strip()
    row.movement = moved.number
    with act(by) as a:
        if saved := acts.saved_before(by, row, SAID):
            return saved
        if outside.linked_to(line) is not None:
            raise Refused(_("This movement belongs to a load already."), "movement")
        load = acts.found(LoadEvent, data.run)
        if row.happened_at < load.first.happened_at:
            raise Refused(_("It began before this load arrived. Amend the time that is wrong first."), "movement")
        acts.in_its_time(load, row)
        if state.state_at(load, row.happened_at) == "unloading":
            raise Refused(_("By this load's record it is being unloaded then: say first when that ended."))
        a.write(row, observed_at=row.happened_at)
        ended_at = _ended_at(moved)
        if ended_at is not None:
            end = acts.new_row(
                LoadEvent, load.number, load.place, UNLOADED, ended_at, uuid.uuid5(data.form_id, "ended"), in_force
            )
            end.movement = moved.number
            a.write(end, observed_at=ended_at)
        load = acts.found(LoadEvent, data.run)
        if state.residue_at(load, a.now) != Residue.PENDING:  # what waits goes on waiting, under its own hold
            consequences.follow(a, load, row, in_force)
        consequences.follow_farms(a, load, in_force)
        consequences.lift_pending(a, load, row)
        consequences.answer_plan(by, load, moved.target, max(one.happened_at for one in load.events), in_force)
    return row


def unlink(by: Actor, number: int, form_id: uuid.UUID, reason: str) -> LoadEvent:
    """A movement was not this load's after all: it waits for a result again. Raises Refused, DifferentContent."""
    old = LoadEvent.objects.filter(number=number, what=UNLOADING).first()
    if old is None or old.run is None or not linked_later(old):
        raise Refused(_("There is no such event."))
    if not reason.strip():
        raise Refused(_("Write a few words here."), "reason")
    row = _undone(old, form_id, reason)
    with act(by) as a:
        if saved := acts.saved_before(by, row, SAID):
            return saved
        acts.may_replace(by, old, void=True)
        a.write(row, observed_at=row.happened_at)
        ends = LoadEvent.objects.filter(run=old.run, what=UNLOADED, movement=old.movement)
        for end in run_queries.standing(ends):
            a.write(_undone(end, uuid.uuid5(form_id, "ended"), reason), observed_at=end.happened_at)
        line = outside.line_of(old.movement or 0)
        if line and outside.brings_raw_milk(line[-1]):
            outside.wait(a, line[-1], line[0].number, plan_at(line[-1].started_at))
    return row


def linked_later(row: LoadEvent) -> bool:
    """Whether this unloading was in the book, as a movement, before it was said to be the load's."""
    moved = Movement.objects.filter(number=row.movement or 0).first()
    return row.what == UNLOADING and moved is not None and moved.act != row.act


def _undone(old: LoadEvent, form_id: uuid.UUID, reason: str) -> LoadEvent:
    row = LoadEvent(**{name: getattr(old, name) for name in (*SAID, *_COMPUTED)})
    row.form_id, row.amends, row.amend_reason, row.void = form_id, old.number, reason.strip(), True
    return row


def _ended_at(moved: Movement) -> datetime | None:
    end = MovementEnd.objects.filter(movement=moved.number).first()
    return end.ended_at if end is not None else moved.ended_at


def say(by: Actor, data: SayData) -> LoadEvent:
    """A step after a positive, an unusual occurrence, a note, or that the load left. Raises as `arrive`."""
    if data.what not in PLAIN:
        raise Refused(_("That is not on the list. Choose one of the list."), "what")
    not_ahead(data.happened_at, "happened_at")
    in_force = plan_at(data.happened_at)
    load = acts.found(LoadEvent, data.run)
    row = acts.new_row(LoadEvent, load.number, load.place, data.what, data.happened_at, data.form_id, in_force)
    _fill_said(row, data)
    with act(by) as a:
        if saved := acts.saved_before(by, row, SAID):
            return saved
        load = acts.found(LoadEvent, data.run)
        acts.in_its_time(load, row)
        if row.what == ENDED and state.state_at(load, row.happened_at) == "unloading":
            raise Refused(_("By this load's record it is being unloaded then: say first when that ended."))
        return a.write(row, observed_at=row.happened_at)


def amend(
    by: Actor, number: int, data: ArriveData | ScreenData | SayData, reason: str, *, void: bool = False
) -> LoadEvent:
    """A row as it should have been said; `void`: it did not happen.

    An amended result that is worse has its consequence at once; one that is better lifts nothing: another test does.
    """
    old, row = acts.successor(
        LoadEvent, number, data.form_id, data.happened_at, reason, void=void, copied=(*SAID, *_COMPUTED)
    )
    in_force = plan_at(row.happened_at)
    load = acts.found(LoadEvent, old.run or old.number)
    if not void:
        if isinstance(data, ArriveData):
            _fill_paper(row, data, in_force)
        elif isinstance(data, ScreenData):
            _fill_screen(row, data, load)
        else:
            _fill_said(row, data)
    with act(by) as a:
        if saved := acts.saved_before(by, row, SAID):
            return saved
        acts.may_replace(by, old, void=void)
        a.write(row, observed_at=row.happened_at)
        load = acts.found(LoadEvent, load.number) if not (void and old.what == ARRIVED) else load
        if row.what == SCREENED:
            consequences.follow(a, load, row, in_force)
        if row.what == ARRIVED and not void:
            consequences.follow_farms(a, load, in_force)
    return row


# --- from what was said to rows


def _fill_paper(row: LoadEvent, data: ArriveData, in_force: InForce) -> None:
    if data.place not in dict(state.receivers(in_force.plan)):
        raise Refused(_("Choose a vessel that raw milk is received into."), "place")
    row.place, row.place_name = data.place, in_force.names.get(data.place, data.place)
    product = product_of(in_force, data.product)
    if product is None or not may_be_raw(product):
        raise Refused(_("Choose a raw product of the plan."), "product")
    row.product, row.product_name = product.code, product.name
    _one_of(data.means, MEANS, "means")
    _one_of(data.seals_whole, (YES, NO, NOT_SEEN, ""), "seals_whole")
    _one_of(data.looks, (*LOOKS, ""), "looks")
    row.means, row.seals_whole, row.looks = data.means, data.seals_whole, data.looks
    for name in ("tanker", "ticket", "seals", "wash_place", "wash_by", "sampler", "sampler_license", "sample", "words"):
        setattr(row, name, getattr(data, name).strip())
    if row.means == "tanker" and not row.tanker:
        raise Refused(_("Write which tanker it is."), "tanker")
    pounds = typed_number(data.pounds, in_force, "pounds")
    if pounds is not None and pounds == 0:
        raise Refused(_("A load weighs more than nothing."), "pounds")
    if pounds is not None and pounds > MOST_POUNDS:
        raise Refused(_("No load on the road weighs so much. Look at the number again."), "pounds")
    row.pounds_typed, row.pounds = data.pounds.strip(), pounds
    row.gallons = None
    if pounds is not None and kind_of(product) != IN_A_BLEND:  # what nobody tested and no kind is of has none
        row.gallons = rounded(between(pounds, "lb", "gal", nominal(product).lb_per_gal), 1)
    row.farms = _farms(data, in_force)
    row.washed_at = data.washed_at
    if row.washed_at is not None and row.washed_at > row.happened_at:
        raise Refused(_("This is after the load arrived."), "washed_at")
    minutes = typed_number(data.agitated, in_force, "agitated")
    row.agitated_typed, row.agitated_min = data.agitated.strip(), minutes


def _farms(data: ArriveData, in_force: InForce) -> list[dict[str, str]]:
    found = []
    lines = zip_longest(data.farms[:MOST_FARMS], data.pickups[: len(data.farms)], fillvalue=None)
    for at, (line, given) in enumerate(lines, 1):
        (name, pounds), pickup = line or ("", ""), given or Pickup()
        if not name.strip() and not pounds.strip() and pickup == Pickup():
            continue
        if not name.strip():
            raise Refused(_("Write which farm the milk is of."), "farms")
        typed_number(pounds, in_force, "farms")
        known = _pickup(at, pickup, data.happened_at, in_force)
        found.append({"farm": name.strip(), "pounds": pounds.strip(), **known})
    if not found:
        raise Refused(_("Write at least one farm."), "farms")
    if len({one["farm"].casefold() for one in found}) < len(found):
        raise Refused(_("One farm stands twice. Add its milk up, or name the tanks apart."), "farms")
    return found


def _pickup(at: int, said: Pickup, arrived_at: datetime, in_force: InForce) -> dict[str, str]:
    """What is known of the pick-up of the farm on this line; what makes no sense is refused beside its field."""
    found: dict[str, str] = {}
    number = typed_number(said.temperature, in_force, f"farm_temperature_{at}", negative=True)
    if number is not None:
        unit = f"°{in_force.plan.plant.temperature_unit}"
        if not COLDEST_F <= exact(number, unit, FAHRENHEIT) <= WARMEST_F:
            low, high = (plain(exact(one, FAHRENHEIT, unit), 0) for one in (COLDEST_F, WARMEST_F))
            words = {"low": low, "high": high, "unit": unit}
            sentence = _("Milk at pick-up is between %(low)s and %(high)s %(unit)s. Look at the number again.")
            raise Refused(sentence % words, f"farm_temperature_{at}")
        found |= {"temperature": said.temperature.strip(), "unit": unit}
    if said.picked_up is not None:
        if said.picked_up > arrived_at:
            raise Refused(_("This is after the load arrived."), f"farm_picked_up_{at}")
        found["picked_up"] = said.picked_up.isoformat()
    if said.milking_ended is not None:
        if said.milking_ended > (said.picked_up or arrived_at):
            raise Refused(_("This is after the milk was picked up."), f"farm_milking_ended_{at}")
        found["milking_ended"] = said.milking_ended.isoformat()
    if said.first_milking is not None:
        if said.first_milking > (said.milking_ended or said.picked_up or arrived_at):
            raise Refused(_("This is after milking ended, or after the pick-up."), f"farm_first_milking_{at}")
        found["first_milking"] = said.first_milking.isoformat()
    if said.collected:
        _one_of(said.collected, farms.COLLECTED, f"farm_collected_{at}")
        found["collected"] = said.collected
    return found


def _fill_screen(row: LoadEvent, data: ScreenData, load: Load) -> None:
    _one_of(data.stage, STAGES, "stage")
    _one_of(data.result, RESULTS, "result")
    for name in ("negative_control", "positive_control"):
        _one_of(getattr(data, name), (YES, NO, NOT_SEEN), name)
    for name in (*_SCREEN, "sample", "words"):
        value = getattr(data, name)
        setattr(row, name, value.strip() if isinstance(value, str) else value)
    for name, sentence in (
        ("kit", _("Write which kit was used.")),
        ("kit_lot", _("Write the kit's lot.")),
        ("analyst", _("Write who did the test.")),
    ):
        if not getattr(row, name):
            raise Refused(sentence, name)
    row.sample = row.sample or load.first.sample
    if row.stage == CONFIRM and not row.certificate:
        sentence = _("A confirmation is made by a certified analyst: write the number of the certificate.")
        raise Refused(sentence, "certificate")


def _fill_said(row: LoadEvent, data: SayData) -> None:
    row.words, row.whom = data.words.strip(), data.whom.strip()
    if row.what != ENDED and not row.words:
        raise Refused(_("Write a few words here."), "words")
    if row.what in STEPS and not row.whom:
        raise Refused(_("Write whom, or which producer."), "whom")


def _one_of(value: str, known: tuple[str, ...], field: str) -> None:
    if value not in known:
        raise Refused(_("Choose one of the list."), field)


def _movement(data: UnloadData, load: Load, started_at: datetime) -> MovementData:
    farms = ", ".join(one["farm"] for one in load.first.farms)
    return MovementData(
        form_id=uuid.uuid5(data.form_id, "movement"),
        source="",
        source_name=(farms or load.first.tanker)[:120],
        target=data.target,
        product=load.first.product,
        started_at=started_at,
        note=_("Load %(number)d") % {"number": load.number},
        start_now=data.begins_now,
    )


def _end_data(load: Load, said: UnloadedData) -> EndData:
    """The movement's end by what was said of it, else by the ticket."""
    typed, unit, measured_by = said.quantity_typed, said.unit, "level"
    if not typed and load.first.pounds is not None:
        typed, unit, measured_by = load.first.pounds_typed, "lb", "mass"
    return EndData(said.happened_at, typed, unit, "", measured_by if typed else "unknown")


def unloading_too_full(load: Load, data: UnloadData) -> list[str]:
    """Where the ticket's pounds would fill the vessel beyond what it holds; asked before it begins."""
    if load.first.pounds is None or LoadEvent.objects.filter(form_id=data.form_id).exists():
        return []
    at = clock.now() if data.begins_now else data.happened_at
    all_of_it = replace(
        _movement(data, load, at), start_now=False, ended_at=at, quantity_typed=load.first.pounds_typed, unit="lb",
        measured_by="mass",
    )  # fmt: skip
    return too_full(all_of_it)


def unloaded_too_full(load: Load, data: UnloadedData) -> list[str]:
    """As `unloading_too_full`, of its end with what was said or the ticket says."""
    begun = load.last(UNLOADING)
    if begun is None or begun.movement is None or LoadEvent.objects.filter(form_id=data.form_id).exists():
        return []
    return end_too_full(begun.movement, _end_data(load, data))


def _vessel(begun: LoadEvent) -> str:
    moved = Movement.objects.filter(number=begun.movement or 0).first()
    return moved.target if moved is not None else begun.place


__all__ = [
    "amend", "arrive", "keep_tag", "link", "say", "screen", "unlink", "unload", "unloaded", "unloaded_too_full",
    "unloading_too_full",
]  # fmt: skip
