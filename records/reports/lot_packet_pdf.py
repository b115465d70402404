"""The packet of one lot as a PDF: laid out from its plain values, in the present language."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from records.ledger.canonical import canonical
from records.recall.family import family_svg
from records.reports import recalled, rows, said
from records.reports.lot_packet import Packet
from records.reports.pdf import static_dir
from records.reports.picture import paper
from records.reports.values import Data


@dataclass(frozen=True, slots=True)
class Dated(said.Clock):
    """The plant's clocks where a document is of more than one day: every time has its date."""

    def time(self, text: str) -> str:
        """'2026-03-03 09:15'; nothing for no time."""
        return f"{datetime.fromisoformat(text).astimezone(self.zone):%Y-%m-%d %H:%M}" if text else ""


def view_of(data: Data) -> Data:
    """A packet's data in words, in the present language."""
    clock = Dated(ZoneInfo(data["zone"]), date.fromisoformat(data["as_of"][:10]))
    ledger = data["ledger"]
    return {
        "running": " · ".join(
            filter(
                None,
                (
                    data["plant"]["name"],
                    _("packet of one lot"),
                    data["lot"]["label"],
                    clock.time(data["as_of"]),
                    _("not signed"),
                    _("invented plant") if data["invented"] else "",
                ),
            )
        ),
        "as_of": clock.full(data["as_of"]),
        "plans": [
            {**one, "since": clock.full(one["in_force_from"]), "hash": rows.grouped(one["hash"])}
            for one in data["plans"]
        ],
        "counts": _counts(data),
        "sources": [{**one, "when": clock.time(one["at"])} for one in data["sources"]],
        "lines": [
            {
                **one,
                "start": clock.time(one["start_at"]),
                "end": clock.time(one["end_at"]) or _("now"),
                "minutes": _minutes(one["start_at"], one["end_at"]),
                "washes": [_wash(each, clock) for each in one["washes"]],
            }
            for one in data["lines"]
        ],
        "tanks": [
            {
                **one,
                "since": clock.time(one["since_at"]),
                "until": clock.time(one["until_at"]) or _("now"),
                "washes": [_wash(each, clock) for each in one["washes"]],
            }
            for one in data["tanks"]
        ],
        "before": [{**one, "when": clock.time(one["at"])} for one in data["before"]],
        "after": [{**one, "when": clock.time(one["at"])} for one in data["after"]],
        "packaging": [
            {
                **one,
                "when": clock.time(one["observed_at"]),
                "counted": {**one["counted"], "when": clock.time(one["counted"]["observed_at"])}
                if one["counted"]
                else None,
            }
            for one in data["packaging"]
        ],
        "checks": [_check(one, clock) for one in data["checks"]],
        "laboratory": [{**one, "when": clock.time(one["taken_at"])} for one in data["laboratory"]],
        "deviations": [rows.deviation_in_words(one, clock) for one in data["deviations"]],
        "holds": [rows.hold_in_words(one, clock) for one in data["holds"]],
        "corrections": [{**one, "at": clock.time(one["observed_at"])} for one in data["corrections"]],
        "dispatched": recalled.dispatched_in_words(data["dispatched"], clock),
        "came_back": recalled.came_back_in_words(data["returned"], clock),
        "recalls": recalled.recalls_in_words(data["recalls"], clock),
        "days": [
            {
                **one,
                "closed": clock.full(one["closed_at"]),
                "root_words": rows.grouped(one["root"]),
                "signed": [{**each, "words": clock.signed(each)} for each in one["signed"]],
            }
            for one in ledger["days"]
        ],
    }


def _counts(data: Data) -> list[tuple[str, int]]:
    """How the checks came out, and how much else there is, for the first page; the checks add up."""
    outcomes = Counter(one["verdict"]["outcome"] if one["verdict"] else "" for one in data["checks"])
    return [
        (_("checks that touched it"), len(data["checks"])),
        *((str(word), outcomes[key]) for key, (word, _mark) in said.OUTCOMES.items()),
        (_("no limit asked"), outcomes[""]),
        (_("deviations"), len(data["deviations"])),
        (_("holds"), len(data["holds"])),
    ]


def _minutes(start: str, end: str) -> str:
    if not end:
        return ""
    seconds = (datetime.fromisoformat(end) - datetime.fromisoformat(start)).total_seconds()
    return _("%(count)s min") % {"count": round(seconds / 60)}


def _wash(one: Data, clock: said.Clock) -> Data:
    outcomes = {
        "met": _("proven by its record"),
        "not met": _("its program not met"),
        "": _("the plan has no program for it"),
    }
    return {
        **one,
        "when": clock.time(one["ended_at"]),
        "what_words": _("washed") if one["what"] == "washed" else _("sanitized"),
        "outcome_words": outcomes.get(one["outcome"], _("not proven")),
        "good": one["outcome"] in ("met", ""),
    }


def _check(one: Data, clock: said.Clock) -> Data:
    verdict = one["verdict"]
    outcome = verdict["outcome"] if verdict else ""
    word, mark = said.OUTCOMES[outcome] if outcome in said.OUTCOMES else (_("no limit asked"), "")
    return {**one, "when": clock.time(one["observed_at"]), "outcome": str(word), "mark": mark}


def render_packet(packet: Packet) -> bytes:
    """Lay out a packet as a PDF that declares PDF/A-3b; its data is attached as canonical JSON, with the newest head.

    The same data gives the same bytes.
    """
    from plant.signing.pdf import render_pdf  # half a second

    data, label = packet.data, packet.data["lot"]["label"]
    view = view_of(data)
    view["lines"] = [{**one, "picture": drawn} for one, drawn in zip(view["lines"], packet.strips, strict=True)]
    context = {
        "data": data,
        "view": view,
        "paper": paper(data),
        "before_picture": family_svg(packet.family_before, label, on_paper=True, ident="before"),
        "after_picture": ""
        if data["lot"]["code"]
        else family_svg(packet.family_after, label, on_paper=True, ident="after"),
    }
    return render_pdf(
        render_to_string("records/reports/lot_packet.html", context),
        static_dir=static_dir(),
        created_at=datetime.fromisoformat(data["as_of"]),
        identifier=f"{data['plant']['name']}/packet/{data['lot']['id']}/{data['as_of']}",
        attachments=_attachments(data),
    )


def _attachments(data: Data) -> list[tuple[str, bytes, str]]:
    words = _("The lot's records, as the packet says them")
    carried = [(f"{file_name(data)}.json", canonical(data).encode(), words)]
    head = data["ledger"]["newest"]
    if head is not None:
        text = {"text": head["head"], "signature": head["signature"], "certificate": head["certificate"]}
        carried.append((f"head-{head['day']}.json", canonical(text).encode(), _("The newest signed head")))
    return carried


def file_name(data: Data) -> str:
    """Of the packet, without its ending: letters, digits and hyphens alone."""
    code = re.sub(r"[^0-9A-Za-z]+", "-", data["lot"]["code"]).strip("-")
    return f"packet-{code or data['lot']['id']}"
