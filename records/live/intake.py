"""Where gateways hand samples in: POST /intake/ with their token. A program's page: it speaks JSON and English."""

from __future__ import annotations

import logging
from typing import Any

from django.http import HttpRequest, JsonResponse
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_POST

from plant import clock
from records.live.gateways import by_token, may_send
from records.live.messages import Said, Unreadable, of_json, of_row
from records.live.staging import NOT_ITS_OWN, take

log = logging.getLogger(__name__)
LARGEST = 2 * 1024 * 1024


@csrf_exempt  # a program without cookies: its token is the right
@require_POST
@sensitive_variables("token")
def intake(request: HttpRequest) -> JsonResponse:
    """Take a list of samples in, of the gateway's own instruments alone.

    Answers what is new, what was known, and each row that was refused with its reason.

    A body that is no JSON, or too large, is refused whole (400, 413). Rows that were taken are committed when this
    answers, so a gateway may forget them; one that gets no answer sends them again, and nothing is there twice.
    """
    scheme, _space, token = request.headers.get("Authorization", "").partition(" ")
    gateway = by_token(token.strip()) if scheme.lower() == "bearer" else None
    if gateway is None:
        answer = JsonResponse({"error": "an enrolled gateway's token is wanted: Authorization: Bearer ..."}, status=401)
        answer["WWW-Authenticate"] = "Bearer"
        return answer
    if int(request.headers.get("Content-Length") or 0) > LARGEST:
        return JsonResponse({"error": f"more than {LARGEST} bytes: send less at once"}, status=413)
    try:
        rows = of_json(request.body.decode("utf-8"))
    except (Unreadable, UnicodeDecodeError) as error:
        why = str(error) if isinstance(error, Unreadable) else "no text in UTF-8"
        return JsonResponse({"error": f"{why}; nothing was kept"}, status=400)
    now = clock.now()
    said: list[Said | Unreadable] = []
    for row in rows:
        try:
            said.append(of_row(row, now))
        except Unreadable as why:
            said.append(why)
    taken = take(said, [_name(row) for row in rows], only=may_send(gateway.gateway))
    if foreign := [at for at, why in taken.refused if why.startswith(NOT_ITS_OWN)]:
        words = "Gateway %s: %d samples refused, of instruments that it is not enrolled for."
        log.warning(words, gateway.name, len(foreign))
    refused = [{"row": at + 1, "why": why} for at, why in taken.refused]
    return JsonResponse({"new": taken.new, "known": taken.known, "refused": refused})


def _name(row: Any) -> str:
    found = row.get("channel") if isinstance(row, dict) else ""
    return found.replace("\0", "") if isinstance(found, str) else ""
