"""The shape of the house: every module has its mirror among the tests, files stay short, names say something."""

from __future__ import annotations

import ast
import hashlib
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings

from inventory.models import SchoolRowsQuerySet

ROOT = Path(__file__).resolve().parent.parent
APPS = ("config", "core", "inventory", "repairs", "loans", "desk")
MOST_LINES = 400

# Modules without a test file of their own: by name in any app, or by path. The reason stands beside each.
NO_MIRROR = {
    "__init__.py": "names what its package offers; the modules behind it have their tests",
    "apps.py": "wiring; without it nothing starts",
    "urls.py": "wiring; the permission matrix and the documented addresses walk it",
    "exceptions.py": "refusals; each is raised in the test of the service that refuses",
    "config/wsgi.py": "Django's entry",
    "inventory/access.py": "a table; the permission matrix tries each row of it",
    "repairs/access.py": "a table; the permission matrix tries each row of it",
    "loans/access.py": "a table; the permission matrix tries each row of it",
    "inventory/free_text.py": "a table; tests/core/test_free_text.py holds it against every column there is",
    "repairs/free_text.py": "a table; tests/core/test_free_text.py holds it against every column there is",
    "loans/free_text.py": "a table; tests/core/test_free_text.py holds it against every column there is",
    "loans/traces.py": "a table; tests/flows/test_tampering.py changes everything it names past the services",
    "inventory/traces.py": "a table; tests/flows/test_tampering.py changes everything it names past the services",
    "repairs/traces.py": "a table; tests/flows/test_tampering.py changes everything it names past the services",
    "desk/access.py": "a table; the permission matrix tries each row of it",
}
BANNED_FILES = {"utils.py", "helpers.py", "misc.py", "extras.py", "common.py"}


def sources(*folders: str) -> list[Path]:
    """Return the Python files below the folders, relative to the root, without migrations."""
    found = (path.relative_to(ROOT) for folder in folders for path in (ROOT / folder).rglob("*.py"))
    return sorted(path for path in found if "migrations" not in path.parts)


def mirror_of(module: Path) -> Path:
    return Path("tests") / module.parent / f"test_{module.name}"


def module_of(mirror: Path) -> Path:
    return mirror.relative_to("tests").parent / mirror.name.removeprefix("test_")


def needs_mirror(module: Path) -> bool:
    return module.name not in NO_MIRROR and module.as_posix() not in NO_MIRROR


def tree(path: Path) -> ast.Module:
    return ast.parse((ROOT / path).read_text(encoding="utf-8"), filename=str(path))


def test_every_module_has_a_mirror_among_the_tests():
    missing = [str(mirror_of(module)) for module in sources(*APPS) if needs_mirror(module)]
    assert [name for name in missing if not (ROOT / name).exists()] == [], (
        "write the test file, or name the module in NO_MIRROR with the reason"
    )


def test_every_mirror_has_its_module():
    """A module that became a package keeps its one test file until that is split too."""
    mirrors = [path for path in sources(*(f"tests/{app}" for app in APPS)) if path.name.startswith("test_")]
    orphans = [
        str(mirror)
        for mirror in mirrors
        if not (ROOT / module_of(mirror)).exists() and not (ROOT / module_of(mirror).with_suffix("")).is_dir()
    ]
    assert orphans == [], "move or delete the test file: its module is gone"


def test_the_list_of_modules_without_mirror_names_only_what_exists():
    paths = {module.as_posix() for module in sources(*APPS)}
    names = {module.name for module in sources(*APPS)}
    assert [entry for entry in NO_MIRROR if entry not in (paths if "/" in entry else names)] == [], (
        "take the entry out of NO_MIRROR"
    )


def test_no_file_is_longer_than_four_hundred_lines():
    lengths = {
        str(path): len((ROOT / path).read_text(encoding="utf-8").splitlines())
        for path in sources(*APPS, "tests", "scripts")
    }
    assert {name: length for name, length in lengths.items() if length > MOST_LINES} == {}, (
        "make it a package of the same name, one module for each thing it does"
    )


def test_no_file_has_a_name_that_says_nothing():
    assert [str(path) for path in sources(*APPS, "tests", "scripts") if path.name in BANNED_FILES] == [], (
        "name the module for what it holds"
    )


def test_no_function_is_named_get_something_or_none():
    named = [
        f"{path}: {node.name}"
        for path in sources(*APPS)
        for node in ast.walk(tree(path))
        if isinstance(node, ast.FunctionDef) and re.fullmatch(r"get_\w+_or_none", node.name)
    ]
    assert named == [], "use core.views.row_or_404, or a queryset with first()"


def test_no_module_imports_a_star():
    stars = [
        str(path)
        for path in sources(*APPS, "tests", "scripts")
        for node in ast.walk(tree(path))
        if isinstance(node, ast.ImportFrom) and any(alias.name == "*" for alias in node.names)
    ]
    assert stars == [], "import by name"


def is_service(path: Path) -> bool:
    return "services" in path.parts or path.name == "services.py"


def test_acts_take_keywords_only_and_no_service_takes_a_request():
    """An act names its actor, and everything by name; what only reads may take its one subject by place."""
    wrong = []
    for path in filter(is_service, sources(*APPS)):
        for node in tree(path).body:
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                continue
            by_place, by_name = node.args.posonlyargs + node.args.args, {arg.arg for arg in node.args.kwonlyargs}
            if (
                len(by_place) > 1
                or (by_place and "actor" in by_name)
                or "request" in by_name | {arg.arg for arg in by_place}
            ):
                wrong.append(f"{path}: {node.name}")
    assert wrong == [], "put * before the arguments of a service; take what is needed from the request in the view"


def test_no_model_overrides_save_and_no_app_listens_to_signals():
    """Rules live in services. The user model is Django's own base and keeps to it."""
    wrong = [
        f"{path}: {node.name}"
        for path in sources("inventory", "repairs", "loans", "desk")
        if "models" in path.parts or path.name == "models.py"
        for node in ast.walk(tree(path))
        if isinstance(node, ast.FunctionDef) and node.name == "save"
    ]
    signals = [str(path) for path in sources(*APPS) if "django.db.models.signals" in (ROOT / path).read_text("utf-8")]
    assert wrong + signals == [], "write a service instead of save() or a signal"


def test_only_pages_and_commands_read_the_clock():
    """Everybody else is told the moment, so that what happened yesterday can be made to happen again."""
    clock = re.compile(r"\btimezone\.(?:now|localdate)\(\)")
    readers = [path for path in sources(*APPS) if clock.search((ROOT / path).read_text(encoding="utf-8"))]
    edges = {"views", "management", "middleware"}
    assert [str(path) for path in readers if not edges & {*path.parts, path.stem}] == [], (
        "take the moment as an argument (at=, today=) and read it in the view"
    )


def test_rows_of_a_school_are_reached_only_through_visible_to():
    """The way from a row to its school stands once, on its queryset; a filter of one's own may take another."""
    own = re.compile(r"(?:school|pk)__in=schools_of\(")
    assert [str(path) for path in sources(*APPS) if own.search((ROOT / path).read_text(encoding="utf-8"))] == [], (
        "filter by rows.visible_to(user, permission)"
    )


# Models whose rows belong to a school, by name; their managers are closed to views and pages but for the ways below.
SCHOOL_ROWS = {
    model.__name__ for model in apps.get_models() if isinstance(model._default_manager.all(), SchoolRowsQuerySet)
}
# Rows that hang on one that the user was shown to hold: Finding.objects.filter(instrument=instrument).
HELD = {
    "instrument",
    "job",
    "loan",
    "person",
    "school",
    "bench",
    "shop",
    "order",
    "batch",
    "inspection",
    "student",
    "sample",
}
UNSCOPED = {
    "inventory/views/setup.py: School.objects.count": "how many there are, for the administrator of the district",
}


def unscoped_reads(path: Path) -> Iterator[str]:
    """Uses of a manager of school rows that neither ask visible_to() nor begin from a row that the user holds."""
    module = tree(path)
    parents = {child: node for node in ast.walk(module) for child in ast.iter_child_nodes(node)}
    for node in ast.walk(module):
        if not (isinstance(node, ast.Attribute) and node.attr == "objects" and isinstance(node.value, ast.Name)):
            continue
        if node.value.id not in SCHOOL_ROWS:
            continue
        names, is_held, step = [], False, parents[node]
        while isinstance(step, ast.Attribute | ast.Call):
            if isinstance(step, ast.Attribute):
                names.append(step.attr)
            else:
                is_held |= any(keyword.arg in HELD for keyword in step.keywords)
            step = parents[step]
        if "visible_to" not in names and not is_held:
            yield f"{path.as_posix()}: {node.value.id}.objects.{names[0] if names else ''}"


def test_views_and_pages_reach_rows_of_a_school_only_through_visible_to():
    found = {
        use
        for path in sources("inventory", "repairs", "loans", "desk")
        if {"views", "pages"} & {*path.parts, path.stem}
        for use in unscoped_reads(path)
    }
    assert found - set(UNSCOPED) == set(), "begin with .visible_to(request.user, self.permission_required)"
    assert set(UNSCOPED) - found == set(), "these exceptions are no longer needed: take them out"


def test_the_net_catches_a_view_that_shows_every_loan(tmp_path):
    view = tmp_path / "views.py"
    view.write_text("rows = Loan.objects.all()\nours = Loan.objects.visible_to(user).all()\n", encoding="utf-8")
    assert [use.rpartition(": ")[2] for use in unscoped_reads(view)] == ["Loan.objects.all"]


WRITES = {"save", "create", "bulk_create", "bulk_update", "get_or_create", "update_or_create", "delete"}


def test_selectors_build_no_addresses():
    """Links, buttons and sentences are made in pages/ from what selectors read."""
    reverse = re.compile(r"^from django\.urls import .*\breverse", re.MULTILINE)
    selectors = [path for path in sources(*APPS) if "selectors" in {*path.parts, path.stem}]
    found = [str(path) for path in selectors if reverse.search((ROOT / path).read_text(encoding="utf-8"))]
    assert found == [], "move the links to pages/"


def side_effects(path: Path) -> Iterator[str]:
    """Queries, writes and imports of services in a module that should only turn rows into words."""
    module = tree(path)
    scoped = {
        node.value.value
        for node in ast.walk(module)
        if isinstance(node, ast.Attribute)
        and node.attr == "visible_to"
        and isinstance(node.value, ast.Attribute)
        and node.value.attr == "objects"
    }
    for node in ast.walk(module):
        if isinstance(node, ast.Attribute) and node.attr == "objects" and node.value not in scoped:
            yield f"{path.as_posix()}:{node.lineno}: .objects"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in WRITES:
            yield f"{path.as_posix()}:{node.lineno}: .{node.func.attr}()"
        if isinstance(node, ast.ImportFrom) and "services" in (node.module or "").split("."):
            yield f"{path.as_posix()}:{node.lineno}: {node.module}"


def test_pages_query_nothing_and_write_nothing():
    pages = [path for path in sources(*APPS) if "pages" in {*path.parts, path.stem}]
    assert [effect for path in pages for effect in side_effects(path)] == [], "read in a selector, write in a service"


def test_the_net_catches_a_page_that_queries_or_writes(tmp_path):
    page = tmp_path / "pages.py"
    page.write_text(
        "from loans.services import return_loan\n"
        "rows = Loan.objects.all()\n"
        "ours = Loan.objects.visible_to(user).all()\n"
        "loan.save()\n",
        encoding="utf-8",
    )
    assert sorted(effect.split(":")[1] for effect in side_effects(page)) == ["1", "2", "4"]


def test_one_place_asks_for_a_chart_and_judges():
    """Everything else takes a Standing. Charts as such are listed by kind in inventory/selectors/charts.py."""
    asks = re.compile(r"\b(?:chart_of|judge)\((?!self, row)")
    places = {str(path) for path in sources(*APPS) if asks.search((ROOT / path).read_text(encoding="utf-8"))}
    assert places == {
        "inventory/catalog/charts.py",
        "inventory/rules/standing.py",
        "inventory/rules/verdict.py",
        "inventory/selectors/charts.py",
        "inventory/selectors/standing.py",
        "inventory/rules/intake/judge.py",  # a row of a spreadsheet
    }


def test_no_cache_is_keyed_by_the_id_of_the_catalog():
    """An id is given again once its object is gone; the catalog and its kinds are hashable themselves."""
    keyed = re.compile(r"\bid\((?:catalog\(\)|trade|kind)\)")
    assert [str(path) for path in sources(*APPS) if keyed.search((ROOT / path).read_text(encoding="utf-8"))] == []


def test_settings_are_read_from_the_environment_only_in_config():
    readers = [
        str(path)
        for path in sources("core", "inventory", "repairs", "loans", "desk")
        if re.search(r"\bos\.(environ|getenv)\b", (ROOT / path).read_text(encoding="utf-8"))
    ]
    assert readers == [], "read it in config/settings.py and use django.conf.settings"


def tracked_files() -> list[str]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    return listed.stdout.splitlines()


@pytest.mark.parametrize(
    "lock", ["requirements/app.lock", "requirements/dev.lock", "requirements/node.lock", "package-lock.json"]
)
def test_locks_hold_names_versions_and_hashes_but_no_address(lock):
    text = (ROOT / lock).read_text(encoding="utf-8")
    assert re.findall(r"https?://\S+|file:\S+|\"resolved\"", text) == []


def test_every_pinned_python_package_carries_hashes():
    for name in ("app", "dev", "node"):
        entries = re.split(r"\n(?=[a-z0-9])", (ROOT / f"requirements/{name}.lock").read_text(encoding="utf-8"))
        pins = [entry for entry in entries if re.match(r"[a-z0-9._-]+==", entry)]
        assert len(pins) > 0
        assert [pin.split()[0] for pin in pins if "--hash=sha256:" not in pin] == []


def test_the_tests_pins_are_the_applications_pins():
    def pins(name: str) -> set[str]:
        return set(
            re.findall(
                r"^[a-z0-9._-]+==[^\s;\\]+", (ROOT / f"requirements/{name}.lock").read_text("utf-8"), re.MULTILINE
            )
        )

    assert pins("app") - pins("dev") == set()


def test_no_landed_migration_changes():
    """Data was made by them. A change is a new migration; its line is added here when it lands, and stays."""
    listed = dict(line.split() for line in (ROOT / "tests/migrations.txt").read_text("utf-8").splitlines())
    there = {
        path.relative_to(ROOT).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for app in APPS
        for path in sorted((ROOT / app / "migrations").glob("0*.py"))
    }
    new = [f"{path} {digest}" for path, digest in there.items() if path not in listed]
    assert new == [], "a new migration: add these lines to tests/migrations.txt"
    assert there == listed, "a landed migration was changed or removed: restore it and write a new one"


def test_the_version_is_the_newest_of_the_changelog():
    newest = re.search(r"^## (\S+) ", (ROOT / "CHANGELOG.md").read_text("utf-8"), re.MULTILINE)
    assert newest
    assert newest.group(1) == settings.VERSION


def test_no_browser_code_of_others_is_committed():
    assert [name for name in tracked_files() if name.startswith(("static/vendor/", "built/", "node_modules/"))] == []
