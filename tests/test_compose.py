"""docker-compose.yml: a plan that Docker would accept, with settings that the project reads and roles that hold."""

from __future__ import annotations

import os
import pwd
import queue
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import paho.mqtt.client as mqtt
import psycopg
import pytest
import yaml
from django.conf import settings
from paho.mqtt.enums import CallbackAPIVersion
from waitress.adjustments import Adjustments

from plant.bootstrap_system import postgres_programs
from records.ledger.models import Entry
from records.live.collecting import broker_of
from tests.services import free_port, private_postgres

ROOT = Path(__file__).resolve().parents[1]
OURS = ("migrate", "web", "worker", "beat", "collect")

pytestmark = pytest.mark.once


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    """The file as YAML gives it, anchors and merges resolved."""
    return dict(yaml.safe_load((ROOT / "docker-compose.yml").read_text(encoding="utf-8")))


def test_every_setting_is_one_that_the_project_reads(compose: dict[str, Any]):
    """No service is given a name that plant/settings.py does not know."""
    text = (ROOT / "plant" / "settings.py").read_text(encoding="utf-8")
    known = set(re.findall(r"env\.(?:text|flag|whole|listed|folder)\(\s*\"([A-Z_]+)\"", text))
    for name in OURS:
        assert set(compose["services"][name]["environment"]) <= known, name


def test_every_variable_is_in_the_example_and_asked_for_by_name(compose: dict[str, Any]):
    """Each value to fill in stands in .env.example, and a missing one stops Docker with its name."""
    text = (ROOT / "docker-compose.yml").read_text(encoding="utf-8")
    wanted = set(re.findall(r"\$\{(\w+)", text))
    assert wanted == set(re.findall(r"\$\{(\w+):\?write \1 into \.env\}", text))
    offered = set(re.findall(r"^(\w+)=", (ROOT / ".env.example").read_text(encoding="utf-8"), re.MULTILINE))
    assert wanted == offered


def test_example_keeps_no_secret():
    """Passwords and key are left empty in the example."""
    text = (ROOT / ".env.example").read_text(encoding="utf-8")
    assert re.findall(r"^(?:\w+_PASSWORD|SECRET_KEY)=(.*)$", text, re.MULTILINE) == [""] * 5


def test_owner_migrates_and_nobody_else_is_the_owner(compose: dict[str, Any]):
    """Only the one-shot migrate service connects as the tables' owner."""
    addresses = {name: compose["services"][name]["environment"]["DATABASE_URL"] for name in OURS}
    users = {name: address.removeprefix("postgres://").split(":")[0] for name, address in addresses.items()}
    assert users == {"migrate": "daybook_owner"} | dict.fromkeys(OURS[1:], "daybook_app")
    assert compose["services"]["migrate"]["restart"] == "no"


def test_nothing_starts_before_the_migration_is_done(compose: dict[str, Any]):
    """Web, worker, beat and collector wait until migrate ended well and the servers are healthy."""
    for name in OURS[1:]:
        waits = compose["services"][name]["depends_on"]
        assert waits["migrate"]["condition"] == "service_completed_successfully"
        assert waits["database"]["condition"] == waits["broker"]["condition"] == "service_healthy"


def test_every_lasting_service_has_a_health_check(compose: dict[str, Any]):
    """All but the one-shot service say whether they are well."""
    assert {name for name, one in compose["services"].items() if "healthcheck" not in one} == {"migrate"}


def test_only_loopback_is_published(compose: dict[str, Any]):
    """The web is reached through the plant's own proxy; database and broker are not published at all."""
    published = {name: one["ports"] for name, one in compose["services"].items() if "ports" in one}
    assert published == {"web": ["127.0.0.1:8000:8000"]}


def test_web_command_is_one_that_waitress_takes(compose: dict[str, Any]):
    """waitress's own parser accepts the options, trusts the proxy's word on https alone, and bounds what it buffers."""
    options, application = Adjustments.parse_args(compose["services"]["web"]["command"][1:])
    assert application == ["plant.wsgi:application"]
    given = {name: value for name, value in options.items() if name not in {"help", "call"}}
    made = Adjustments(**given)
    assert made.trusted_proxy_headers == {"x-forwarded-proto"}
    # More than our own bound, so that our page answers what is a little too large; far less than waitress's gigabyte.
    assert settings.LARGEST_REQUEST < made.max_request_body_size <= 2 * settings.LARGEST_REQUEST


def test_files_that_compose_names_are_there(compose: dict[str, Any]):
    """The image's recipe and the script of the roles exist; every volume that is used is declared."""
    assert (ROOT / compose["services"]["web"]["build"]["dockerfile"]).is_file()
    for one in compose["services"].values():
        for volume in one.get("volumes", []):
            source = volume.split(":")[0]
            assert (ROOT / source).is_file() if source.startswith(".") else source in compose["volumes"]


@contextmanager
def compose_broker(folder: Path) -> Iterator[int]:
    """The broker as its service starts it, with our port and folder; its port."""
    port, users = free_port(), folder / "users"
    name = pwd.getpwuid(os.geteuid()).pw_name
    conf = (ROOT / ".compose" / "mosquitto.conf").read_text(encoding="utf-8")
    for old, new in (
        ("listener 1883", f"listener {port} 127.0.0.1\nuser {name}"), ("/mosquitto/data/", f"{folder}/"),
        ("/tmp/users", str(users)), ("/etc/daybook-mosquitto.acl", str(ROOT / ".compose" / "mosquitto.acl")),
    ):  # fmt: skip
        assert old in conf
        conf = conf.replace(old, new)
    (folder / "conf").write_text(conf)
    environment = {
        "PATH": f"{os.environ['PATH']}:/usr/sbin", "MQTT_COLLECT_PASSWORD": "cold", "MQTT_RECORDER_PASSWORD": "hot",
        "BROKER_USER": name,
    }  # fmt: skip
    script = ROOT / ".compose" / "mosquitto.sh"
    with (folder / "log").open("wb") as log:
        process = subprocess.Popen(
            ["sh", script, folder / "conf", users], env=environment, stdout=log, stderr=log
        )
    try:
        yield port
    finally:
        process.kill()
        process.wait(20)


def said_by(port: int, user: str, password: str, topic: str) -> str:
    """What the broker makes of a user: refused, or its sample heard by the collector, or not."""
    heard: queue.Queue[str] = queue.Queue()
    listener = mqtt.Client(CallbackAPIVersion.VERSION2)
    listener.username_pw_set("collect", "cold")
    listener.on_message = lambda _client, _data, message: heard.put(message.payload.decode())
    listener.on_subscribe = lambda *_told: heard.put("listens")
    listener.on_connect = lambda client, *_told: client.subscribe("daybook/#", 1)
    deadline = time.monotonic() + 20
    while True:
        try:
            listener.connect("127.0.0.1", port)
            break
        except ConnectionRefusedError:
            assert time.monotonic() < deadline
            time.sleep(0.1)
    listener.loop_start()
    sender = mqtt.Client(CallbackAPIVersion.VERSION2)
    if user:
        sender.username_pw_set(user, password)
    sender.on_connect = lambda client, _data, _flags, code, _properties: (
        heard.put("refused") if code.is_failure else client.publish(topic, "40.1", qos=1)
    )
    try:
        assert heard.get(timeout=20) == "listens"
        sender.connect("127.0.0.1", port)
        sender.loop_start()
        return heard.get(timeout=3)
    except queue.Empty:
        return "not heard"
    finally:
        sender.disconnect()
        sender.loop_stop()
        listener.disconnect()
        listener.loop_stop()


@pytest.mark.slow
def test_nobody_speaks_to_the_broker_unnamed(tmp_path: Path):
    """A recorder by its password and on its topics; without a name, with a wrong word or as the collector nobody."""
    with compose_broker(tmp_path) as port:
        assert said_by(port, "recorder", "hot", "daybook/silo-a") == "40.1"
        assert said_by(port, "", "", "daybook/silo-a") == "refused"
        assert said_by(port, "recorder", "cold", "daybook/silo-a") == "refused"
        assert said_by(port, "recorder", "hot", "other/silo-a") == "not heard"
        assert said_by(port, "collect", "cold", "daybook/silo-a") == "not heard"
    assert "hot" not in (tmp_path / "users").read_text() and (tmp_path / "users").stat().st_mode & 0o77 == 0


def test_the_collector_names_itself_from_the_environment(compose: dict[str, Any]):
    """Its address carries the user and the password that .env gives, as `collect` reads an address."""
    address = compose["services"]["collect"]["environment"]["MQTT_URL"]
    password = compose["services"]["mosquitto"]["environment"]["MQTT_COLLECT_PASSWORD"]
    assert password.startswith("${MQTT_COLLECT_PASSWORD:?")
    broker = broker_of(address.replace(password, "cold"), ())
    assert (broker.user, broker.password, broker.host) == ("collect", "cold", "mosquitto")


@pytest.fixture(scope="module")
def cluster() -> Iterator[str]:
    """A cluster on which the script of the roles has run as the database image would run it."""
    with private_postgres() as url:
        at = urlsplit(url)
        settings = {"PGHOST": str(at.hostname), "PGPORT": str(at.port), "PATH": f"{postgres_programs()}:/usr/bin:/bin"}
        owner = {"POSTGRES_USER": "postgres", "POSTGRES_DB": at.path[1:], "APP_PASSWORD": 'it\'s a "test"'}
        subprocess.run(["sh", ROOT / ".compose" / "roles.sh"], env={**settings, **owner}, check=True)
        yield url


@pytest.mark.slow
def test_app_role_cannot_make_or_alter_tables(cluster: str):
    """The role of web and workers can connect, and can neither create a table nor take a trigger off one."""
    with psycopg.connect(cluster) as owner:
        owner.execute("create table record (id int)")
        owner.execute("grant select, insert on record to daybook_app")
    for statement in ("create table mine (id int)", "alter table record disable trigger all", "drop table record"):
        app = psycopg.connect(cluster.replace("postgres@", "daybook_app@"))
        with app, pytest.raises(psycopg.errors.InsufficientPrivilege):
            app.execute(statement)


@pytest.mark.slow
def test_app_role_has_no_power_over_the_cluster(cluster: str):
    """It is no superuser, makes no roles and no databases, and its password is the one given, quotes and all."""
    with psycopg.connect(cluster) as owner:
        row = owner.execute(
            "select rolsuper, rolcreaterole, rolcreatedb, rolbypassrls, rolpassword like 'SCRAM-SHA-256%%'"
            " from pg_authid where rolname = 'daybook_app'"
        ).fetchone()
    assert row == (False, False, False, False, True)


@pytest.mark.slow
def test_migrate_command_leaves_the_app_role_able_to_add_records_only(cluster: str, compose: dict[str, Any]):
    """The one-shot command, run as the owner, lets the app role insert into the ledger's table and never update it."""
    shell, option, line = compose["services"]["migrate"]["command"]
    settings = {"DATABASE_URL": cluster, "PATH": f"{Path(sys.executable).parent}:/usr/bin:/bin", "SECRET_KEY": "test"}
    subprocess.run([shell, option, line], cwd=ROOT, env={**settings, "DAYBOOK_PREPARE": "off"}, check=True)
    with psycopg.connect(cluster) as owner:
        table = Entry._meta.db_table
        asked = [
            f"has_table_privilege('daybook_app', '{table}', '{power}')" for power in ("insert", "update", "delete")
        ]
        row = owner.execute(f"select {', '.join(asked)}").fetchone()
    assert row == (True, False, False)
