"""Spanish is whole: every message of the code is translated, with its places, and compiled as it is written.

When a message is new: `manage.py makemessages -l es --ignore .venv --ignore tests --no-wrap --add-location file`, write
its Spanish into plant/locale/es/LC_MESSAGES/django.po, then `manage.py compilemessages`, and commit both files.
"""

from __future__ import annotations

import ast
import gettext
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.po_tools import Message, messages

pytestmark = pytest.mark.once

ROOT = Path(__file__).resolve().parents[1]
SPANISH = ROOT / "plant" / "locale" / "es" / "LC_MESSAGES"
PLACES = re.compile(r"%\(\w+\)[a-z]|%[sd%]|\{\w+\}")


def written() -> list[Message]:
    """The messages of the Spanish file."""
    return messages(SPANISH / "django.po")


def test_every_message_is_translated_and_none_is_a_guess() -> None:
    """No empty translation, in any plural form, and no fuzzy one."""
    open_ones = [one.english for one in written() if not one.said or not all(one.said.values())]
    assert open_ones == []
    assert [one.english for one in written() if "fuzzy" in one.flags] == []


def test_translations_keep_every_place_of_the_message() -> None:
    """A name, a number or a reason that a sentence carries is in its translation, each as often."""
    wrong = []
    for one in written():
        for form, said in one.said.items():
            source = one.plural if form and one.plural else one.english
            if sorted(PLACES.findall(source)) != sorted(PLACES.findall(said)):
                wrong.append((source, said))
    assert wrong == []


def test_the_compiled_file_says_what_the_written_one_says() -> None:
    """Both are in the repository: whoever changes one compiles the other."""
    with (SPANISH / "django.mo").open("rb") as compiled:
        catalog = dict(gettext.GNUTranslations(compiled)._catalog)  # type: ignore[attr-defined]
    catalog.pop("")
    wanted: dict[object, str] = {}
    for one in written():
        if one.plural:
            wanted |= {(one.key, form): said for form, said in one.said.items()}
        else:
            wanted[one.key] = one.said[0]
    assert catalog == wanted


def test_the_code_says_nothing_that_is_not_in_the_file(tmp_path: Path) -> None:
    """Collecting the messages anew, in a copy, finds those of the file: none more, none fewer."""
    for name in ("plant", "records", "templates"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__", "*.mo"))
    command = [sys.executable, "-m", "django", "makemessages", "-l", "es", "--no-wrap", "--no-obsolete"]
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "plant.settings", "PYTHONPATH": str(tmp_path)}
    subprocess.run(command, cwd=tmp_path, env=environment, check=True, capture_output=True, timeout=120)
    fresh = {one.key for one in messages(tmp_path / "plant" / "locale" / "es" / "LC_MESSAGES" / "django.po")}
    kept = {one.key for one in written()}
    assert (fresh - kept, kept - fresh) == (set(), set())


def test_no_message_is_translated_while_a_module_loads() -> None:
    """`gettext` outside a function speaks the language of whoever came first, for ever: there it has to be lazy."""
    found = []
    for path in sorted([*(ROOT / "plant").rglob("*.py"), *(ROOT / "records").rglob("*.py")]):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        found += [f"{path.relative_to(ROOT)}:{line}" for line in _at_loading(tree.body, _eager(tree))]
    assert found == []


def _eager(tree: ast.Module) -> set[str]:
    """The names under which a module has functions that translate at once."""
    imports = [one for one in ast.walk(tree) if isinstance(one, ast.ImportFrom)]
    named = [name for one in imports if one.module == "django.utils.translation" for name in one.names]
    return {name.asname or name.name for name in named if name.name in ("gettext", "ngettext", "pgettext")}


def _at_loading(body: list[ast.stmt], eager: set[str]) -> Iterator[int]:
    """The lines that call such a function when the module is imported: outside functions, in defaults too."""
    waiting: list[ast.AST] = list(body)
    while waiting:
        one = waiting.pop()
        if isinstance(one, ast.Call) and isinstance(one.func, ast.Name) and one.func.id in eager:
            yield one.lineno
        if isinstance(one, ast.FunctionDef):
            defaults = [*one.args.defaults, *one.args.kw_defaults]
            waiting += [*one.decorator_list, *(given for given in defaults if given is not None)]
        elif isinstance(one, ast.Lambda):
            continue
        else:
            waiting += ast.iter_child_nodes(one)
