"""docker-compose.yml: a plan that Docker would accept, with settings that the project reads and roles that hold."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg
import pytest
import yaml
from django.conf import settings
from waitress.adjustments import Adjustments

from plant.bootstrap_system import postgres_programs
from records.ledger.models import Entry
from tests.services import private_postgres

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
    assert re.findall(r"^(?:OWNER_PASSWORD|APP_PASSWORD|SECRET_KEY)=(.*)$", text, re.MULTILINE) == ["", "", ""]


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
