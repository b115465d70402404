"""README.md and DEVELOPERS.md say what the code does. `python -m tests.test_docs` writes its two long tables anew."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from plant.bootstrap import HANDED_ON, SWITCH
from tests import calculations

pytestmark = pytest.mark.once

ROOT = Path(__file__).resolve().parents[1]
README, DEVELOPERS = ROOT / "README.md", ROOT / "DEVELOPERS.md"
DOCUMENTS = {one.name: one for one in (README, DEVELOPERS)}
BEGIN, END = "<!-- routes: begin -->", "<!-- routes: end -->"
COUNTED = ("<!-- calculations: begin -->", "<!-- calculations: end -->")
TOP = {
    "README.md", "DEVELOPERS.md", "LICENSE", "manage.py", "requirements.txt", "pyproject.toml", "docker-compose.yml",
    "plant", "records", "templates", "static", "tests",
}  # fmt: skip
# A reader takes NAME and NAME_FILE from the environment (plant/env.py).
READ_BY_NAME = re.compile(r"\benv\.(?:text|flag|whole|listed|folder)\(\s*\"([A-Z_]+)\"")
CODE = re.compile(r"`([^`\n]+)`")
FENCED = re.compile(r"^ *```.*?^ *```", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")
OF_OURS = re.compile(
    r"(?:plant|records|templates|static|tests|\.ci|\.compose)/[\w./-]*\w|\b(?:manage\.py|DEVELOPERS\.md|README\.md)\b"
)
# Folders and files that a command makes, not files of the project.
MADE = ("plant/locale",)
# A path of somebody's own machine means nothing to who reads.
FORBIDDEN = re.compile(r"(?<![\w.])/(?:home|root|Users|mnt|media|work)/", re.IGNORECASE)


def text_of(path: Path) -> str:
    """A file's text."""
    return path.read_text(encoding="utf-8")


def table_column(heading: str) -> list[str]:
    """The first column's names in the table under a heading of DEVELOPERS.md, code marks and arguments taken off."""
    found = re.search(rf"^## {heading}\n(.*?)(?=^## )", text_of(DEVELOPERS), re.MULTILINE | re.DOTALL)
    assert found, f"DEVELOPERS.md has no heading {heading!r}"
    return re.findall(r"^\| `([\w-]+)", found[1], re.MULTILINE)


def settings_read() -> set[str]:
    """Every name that the code reads from the environment."""
    found = set()
    for folder in ("plant", "records"):
        for path in (ROOT / folder).rglob("*.py"):
            found.update(READ_BY_NAME.findall(text_of(path)))
    return found


def commands_of_ours() -> set[str]:
    """manage.py's commands that this project brings; `test` is manage.py's own."""
    found = {
        path.stem
        for folder in ("plant", "records")
        for path in (ROOT / folder).glob("management/commands/[a-z]*.py")
    }
    return found | {"test"}


def tracked() -> list[str]:
    """What git keeps of the project (where there is no git: what lies there, but for what is made)."""
    try:
        listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        found = [str(one.relative_to(ROOT)) for one in ROOT.rglob("*") if one.is_file()]
        return [one for one in found if "/" in one or not one.startswith("daybook.sqlite3")]
    return listed.splitlines()


def words_in_code(text: str) -> Iterator[str]:
    """What stands in code marks and in fenced blocks."""
    yield from FENCED.findall(text)
    yield from CODE.findall(FENCED.sub("", text))


# --- settings and commands


def test_each_setting_is_documented() -> None:
    """The table under Settings names every variable that the code reads, and no other."""
    from tests.selection import AGAIN


    assert set(table_column("Settings")) == settings_read() | {SWITCH, AGAIN, "THOROUGH"}
    assert "THOROUGH" in text_of(ROOT / "tests" / "generated.py")
    assert f"`{HANDED_ON}`" in text_of(DEVELOPERS)


def test_each_setting_is_named_once() -> None:
    """Two lines for one setting would drift apart."""
    names = table_column("Settings")
    assert len(names) == len(set(names))


def test_defaults_are_those_of_the_code() -> None:
    """What the table says of a default is what the reader is given."""
    documented = dict(re.findall(r"^\| `([A-Z_]+)` \| `([^`]+)` \|", text_of(DEVELOPERS), re.MULTILINE))
    settings = text_of(ROOT / "plant" / "settings.py")
    given = dict(re.findall(r"env\.text\(\"([A-Z_]+)\", \"([^\"]+)\"\)", settings))
    given |= dict(re.findall(r"env\.listed\(\"([A-Z_]+)\", \"([^\"]+)\"\)", settings))
    given |= dict(re.findall(r"env\.whole\(\"([A-Z_]+)\", (\d+)", settings))
    given |= dict.fromkeys(re.findall(r"env\.flag\(\"([A-Z_]+)\"\)", settings), "False")
    inside = re.findall(r"env\.folder\(\"(\w+)\", DATA_DIR / \"(\w+)\"", settings)
    given |= {name: f"DATA_DIR/{part}" for name, part in inside}
    assert len(given) > 8
    assert {name: documented.get(name) for name in given} == given


def test_each_command_is_documented() -> None:
    """The table under Commands names every command of ours; README names the two that a newcomer needs."""
    assert set(table_column("Commands")) == commands_of_ours()


def test_options_in_the_documents_exist() -> None:
    """A command is only shown with options that it has."""
    from django.core.management import get_commands, load_command_class

    shown = [line for name in DOCUMENTS for one in words_in_code(text_of(DOCUMENTS[name])) for line in one.splitlines()]
    found = 0
    for line in shown:
        match = re.search(r"manage\.py ([a-z_]+)(.*)", line)
        if match and match[1] in commands_of_ours() - {"test"}:
            of = str(get_commands()[match[1]])
            parser = load_command_class(of, match[1]).create_parser("manage.py", match[1])
            parts = [part for one in parser._actions if isinstance(one.choices, dict) for part in one.choices.values()]
            known = "\n".join(one.format_help() for one in (parser, *parts))
            for option in re.findall(r"(?<!\S)--[a-z-]+", match[2]):
                found += 1
                assert option in known, f"manage.py {match[1]} has no {option}"
    assert found > 4


def test_the_two_commands_are_those_of_the_code() -> None:
    """`manage.py demo` and `manage.py test` are in README; the second is what .ci/run calls; both are prepared for."""
    from plant import bootstrap, bootstrap_system

    text = text_of(README)
    assert "python3 manage.py demo" in text and "python3 manage.py test" in text
    assert "python3 manage.py test" in text_of(ROOT / ".ci" / "run")
    assert "tests/requirements.txt" in bootstrap.requirement_files("test")
    assert "demo" in text_of(Path(bootstrap_system.__file__))


# --- files, links, words


@pytest.mark.parametrize("name", DOCUMENTS)
def test_files_that_a_document_names_exist(name: str) -> None:
    """Every path of ours is there; addresses of pages look alike and stand in the table of routes."""
    words = re.sub(rf"{BEGIN}.*{END}", "", text_of(DOCUMENTS[name]), flags=re.DOTALL)
    gone = {
        one
        for one in OF_OURS.findall(words)
        if not (ROOT / one).exists() and not (ROOT / f"{one}.py").exists() and one not in MADE
    }
    assert gone == set()


@pytest.mark.parametrize("name", DOCUMENTS)
def test_names_in_code_marks_exist(name: str) -> None:
    """A file named without its folder (`content.py`) and a function (`due_between`) are found in the code."""
    words = set(CODE.findall(FENCED.sub("", text_of(DOCUMENTS[name]))))
    files = {Path(one).name for one in tracked()}
    code = "\n".join(text_of(path) for one in ("plant", "records", "tests") for path in (ROOT / one).rglob("*.py"))
    bare = {one for one in words if re.fullmatch(r"[\w-]+\.(py|toml|html|css|sh)", one)}
    assert {one for one in bare if one not in files} == set()
    functions = {one for one in words if re.fullmatch(r"[a-z]+(?:_[a-z]+)+(?:\(.*\))?", one)}
    gone = {one for one in functions if not re.search(rf"\b{one.partition('(')[0]}\b", code)}
    assert gone == set()


@pytest.mark.parametrize("name", DOCUMENTS)
def test_links_of_a_document_resolve(name: str) -> None:
    """A link leads to a file of the project or to a heading of the page; none leads outside."""
    words = text_of(DOCUMENTS[name])
    headings = {anchor(one) for one in re.findall(r"^#+ (.+)$", FENCED.sub("", words), re.MULTILINE)}
    for target in LINK.findall(words):
        if target.startswith("#"):
            assert target[1:] in headings, target
        else:
            assert not target.startswith("http") and (ROOT / target.partition("#")[0]).exists(), target


def anchor(heading: str) -> str:
    """The anchor that Markdown gives a heading."""
    return re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-")


def test_pictures_are_small_and_shown() -> None:
    """At most seven pictures below 80 kB, each of them in README with words for who cannot see it."""
    pictures = sorted((ROOT / "static" / "img" / "readme").glob("*"))
    assert 1 <= len(pictures) <= 7
    for one in pictures:
        assert one.stat().st_size < 80_000, one.name
        assert re.search(rf"!\[[^\]]{{15,}}\]\(static/img/readme/{re.escape(one.name)}\)", text_of(README)), one.name


@pytest.mark.parametrize("name", [*DOCUMENTS, "LICENSE", ".env.example", "docker-compose.yml"])
def test_no_place_of_a_machine_is_named(name: str) -> None:
    """No path of the machine that it was written on."""
    assert FORBIDDEN.findall(text_of(ROOT / name)) == []


def test_readme_cautions_early() -> None:
    """What the book is not stands within the first forty lines."""
    early = " ".join(text_of(README).splitlines()[:40]).lower()
    for word in ("legal recorder", "regulator", "qualified individual", "invented", "from memory", "approve"):
        assert word in early, word


def test_the_top_folder_holds_only_what_belongs_there() -> None:
    """Everything else has a place inside."""
    names = {one.partition("/")[0] for one in tracked()}
    assert {one for one in names if not one.startswith(".")} <= TOP


def test_license_names_its_holder() -> None:
    """MIT, the daybook's authors; the fonts keep their own beside them."""
    words = text_of(ROOT / "LICENSE")
    assert "MIT License" in words and "the daybook's authors" in words
    assert all("SIL OPEN FONT LICENSE" in text_of(one) for one in (ROOT / "static" / "fonts").glob("OFL*.txt"))


# --- markers, content, routes


def test_each_marker_is_documented() -> None:
    """The table under Tests names the markers of pyproject.toml."""
    markers = set(re.findall(r"^    \"(\w+):", text_of(ROOT / "pyproject.toml"), re.MULTILINE))
    assert set(table_column("Tests")) == markers and len(markers) == 4


def test_each_benchmark_is_documented() -> None:
    """DEVELOPERS.md says how each is run."""
    from tests.benchmarks.__main__ import NAMES

    for name in NAMES:
        assert f"python -m tests.benchmarks {name}" in " ".join(text_of(DEVELOPERS).split()), name


def test_routes_are_those_of_the_code() -> None:
    """The table of routes is what this module would write."""
    written = text_of(DEVELOPERS).partition(BEGIN)[2].partition(END)[0].strip()
    assert written == routes_table(), "run: .venv/bin/python -m tests.test_docs"


def test_calculations_are_those_of_the_code() -> None:
    """The table of calculations, with the checks that prove each, is what this module would write."""
    written = text_of(DEVELOPERS).partition(COUNTED[0])[2].partition(COUNTED[1])[0].strip()
    assert written == calculations.table(), "run: .venv/bin/python -m tests.test_docs"


def routes_table() -> str:
    """Every route: its address, its name, and who may use it."""
    from django.urls import URLPattern, URLResolver, get_resolver

    from plant.people.models import Role
    from records.people.rights import ORDER, PUBLIC, RIGHTS

    def walk(patterns: Sequence[object], prefix: str, address: str) -> Iterator[tuple[str, str]]:
        for one in patterns:
            if isinstance(one, URLResolver):
                inner = f"{prefix}{one.namespace}:" if one.namespace else prefix
                yield from walk(one.url_patterns, inner, address + str(one.pattern))
            elif isinstance(one, URLPattern):
                yield address + str(one.pattern), f"{prefix}{one.name}"

    def who(name: str) -> str:
        allowed = RIGHTS.get(name, frozenset())
        if allowed == PUBLIC:
            return "anybody"
        missing = [one for one in ORDER if one not in allowed]
        if not missing:
            return "every role"
        if len(missing) <= 2 < len(allowed):
            return "all but " + ", ".join(missing)
        return ", ".join(one for one in ORDER if one in allowed) or "nobody"

    assert set(ORDER) == set(Role.values)
    lines = ["| address | route | who |", "|---|---|---|"]
    for address, name in sorted(walk(get_resolver().url_patterns, "", "/")):
        lines.append(f"| `{address}` | `{name}` | {who(name)} |")
    return "\n".join(lines)


def write() -> None:
    """Put the tables of routes and of calculations into DEVELOPERS.md."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()
    text = text_of(DEVELOPERS)
    for (begin, end), table in (((BEGIN, END), routes_table()), (COUNTED, calculations.table())):
        before, _, rest = text.partition(begin)
        text = f"{before}{begin}\n{table}\n{end}{rest.partition(end)[2]}"
    DEVELOPERS.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    write()
    sys.exit(0)
