"""Checks that everything an entry refers to is there, and that the trade's data holds together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import chain
from typing import TYPE_CHECKING

from inventory.catalog.load.problems import Problem
from inventory.catalog.names import methods_for
from inventory.catalog.schema import MISSING_PART, Catalog, Kind, Method, Severity

if TYPE_CHECKING:
    from inventory.catalog.load.folder import Folder


def check_links(*, catalog: Catalog, folder: Folder) -> list[Problem]:
    """Return every reference that leads nowhere and every gap between roles, faults and methods."""
    checks = _Links(catalog=catalog, folder=folder)
    checks.roles()
    checks.remedies()
    checks.methods()
    checks.ladders()
    checks.guards_and_rules()
    checks.intervals()
    checks.overhauls()
    checks.kinds()
    checks.coverage()
    return checks.problems


class _Links:
    def __init__(self, *, catalog: Catalog, folder: Folder) -> None:
        self.catalog = catalog
        self.folder = folder
        self.problems: list[Problem] = []
        self.tags = {tag for method in catalog.methods.values() for tag in method.tags} | {
            tag for ladder in catalog.ladders.values() for rung in ladder.rungs for tag in rung.tags
        }

    def note(self, section: str, code: str, name: str, reason: str) -> None:
        file = self.folder.files.get((section, code), f"{section}.yaml")
        key = f"{code}.{name}" if section == "layouts" else f"{section}.{code}.{name}"
        self.problems.append(Problem(file, key.rstrip("."), reason))

    def known(self, where: tuple[str, str, str], codes: Iterable[str], known: Mapping[str, object], what: str) -> None:
        for code in codes:
            if code not in known:
                self.note(*where, f"no {what} called {code}")

    def roles(self) -> None:
        for code, role in self.catalog.roles.items():
            self.known(("roles", code, "faults"), role.faults, self.catalog.faults, "fault")
            if MISSING_PART not in role.faults:
                self.note("roles", code, "faults", f"{MISSING_PART} must be among them")
        for code, fitted in self.catalog.fitted_sets.items():
            self.known(("fitted_sets", code, "roles"), fitted.roles, self.catalog.roles, "role")

    def remedies(self) -> None:
        catalog = self.catalog
        layouts = {kind.layout: kind for kind in catalog.kinds.values()}
        for remedy in catalog.remedies:
            fault = remedy.fault
            self.known(("remedies", fault, ""), [fault], catalog.faults, "fault")
            self.known(("remedies", fault, "methods"), remedy.methods, catalog.methods, "method")
            self.known(("remedies", fault, "roles"), remedy.roles, catalog.roles, "role")
            self.known(("remedies", fault, "kinds"), remedy.kinds, catalog.kinds, "kind")
            self.known(("remedies", fault, "layouts"), remedy.layouts, layouts, "layout")
            if not remedy.methods:
                self.note("remedies", fault, "methods", "a remedy needs at least one method")

    def methods(self) -> None:
        catalog = self.catalog
        for code, method in catalog.methods.items():
            self.known(("methods", code, "fixes"), method.fixes, catalog.faults, "fault")
            self.known(("methods", code, "recheck"), method.recheck, catalog.faults, "fault")
            self.known(
                ("methods", code, "parts"), [need.code for need in method.parts], catalog.consumables, "consumable"
            )
            self.known(("methods", code, "tools"), method.tools, catalog.tools, "tool")
            self.known(("methods", code, "hazards"), method.hazards, catalog.hazards, "hazard")
            self.known(("methods", code, "roles"), method.roles, catalog.roles, "role")
            if method.ladder:
                self.known(("methods", code, "ladder"), [method.ladder], catalog.ladders, "ladder")
            self._earlier(method, "needs", method.needs)
            self.known(("methods", code, "needs_at"), method.needs_at, catalog.roles, "role")
            for role, codes in method.needs_at.items():
                self._earlier(method, f"needs_at.{role}", codes)
            self._earlier(method, "after", method.after)
            self._later(method)
        self._no_circle()

    def _earlier(self, method: Method, name: str, codes: tuple[str, ...]) -> None:
        self.known(("methods", method.code, name), codes, self.catalog.methods, "method")
        for code in codes:
            before = self.catalog.methods.get(code)
            if before and before.phase > method.phase:
                reason = f"{code} is of phase {before.phase}, later than phase {method.phase}"
                self.note("methods", method.code, name, reason)

    def _later(self, method: Method) -> None:
        where = ("methods", method.code, "put_back")
        self.known(where, method.put_back, self.catalog.methods, "method")
        for code in method.put_back:
            after = self.catalog.methods.get(code)
            if after and after.phase < method.phase:
                self.note(*where, f"{code} is of phase {after.phase}, earlier than phase {method.phase}")
            if after and not after.whole:
                self.note(*where, f"{code} is not done once for the whole instrument")

    def _no_circle(self) -> None:
        done: set[str] = set()

        def walk(code: str, above: tuple[str, ...]) -> None:
            method = self.catalog.methods.get(code)
            if method is None or code in done:
                return
            if code in above:
                self.note("methods", code, "needs", f"goes in a circle by {' > '.join(above)}")
                return
            for before in (*method.needs, *chain(*method.needs_at.values()), *method.after):
                walk(before, (*above, code))
            done.add(code)

        for code in self.catalog.methods:
            walk(code, ())

    def ladders(self) -> None:
        catalog = self.catalog
        for code, ladder in catalog.ladders.items():
            self.known(("ladders", code, "roles"), ladder.roles, catalog.roles, "role")
            force = 0
            seen: dict[str, object] = {}
            for rung in ladder.rungs:
                key = f"rungs.{rung.code}"
                if rung.force < force:
                    self.note(
                        "ladders", code, f"{key}.force", f"{rung.force} comes after {force}: gentler rungs come first"
                    )
                force = max(force, rung.force)
                self.known(("ladders", code, f"{key}.after"), rung.after, seen, "earlier rung")
                self.known(("ladders", code, f"{key}.needs"), rung.needs, catalog.methods, "method")
                self.known(("ladders", code, f"{key}.tools"), rung.tools, catalog.tools, "tool")
                self.known(("ladders", code, f"{key}.hazards"), rung.hazards, catalog.hazards, "hazard")
                if rung.shared_with:
                    self.known(("ladders", code, f"{key}.shared_with"), [rung.shared_with], catalog.methods, "method")
                seen[rung.code] = rung

    def guards_and_rules(self) -> None:
        known = dict.fromkeys(self.tags)
        for code in self.folder.sections["guards"]:
            raw = self.folder.sections["guards"][code]
            if isinstance(raw, dict):
                self.known(("guards", code, "fault"), [raw.get("fault", code)], self.catalog.faults, "fault")
                self.known(("guards", code, "forbids"), raw.get("forbids") or (), known, "tag on any method or rung")
        for rule in self.catalog.order_rules:
            for name, tags in (("first", rule.first), ("then", rule.then), ("between", rule.between)):
                self.known(("order_rules", rule.code, name), tags, known, "tag on any method or rung")

    def intervals(self) -> None:
        catalog = self.catalog
        for code, interval in catalog.intervals.items():
            if interval.method:
                self.known(("intervals", code, "method"), [interval.method], catalog.methods, "method")
            self.known(("intervals", code, "roles"), interval.roles, catalog.roles, "role")
            self.known(("intervals", code, "kinds"), interval.kinds, catalog.kinds, "kind")

    def overhauls(self) -> None:
        catalog = self.catalog
        layouts = {kind.layout: kind for kind in catalog.kinds.values()}
        for code, one in catalog.overhauls.items():
            self.known(("overhauls", code, "method"), [one.method], catalog.methods, "method")
            self.known(("overhauls", code, "instead_of"), one.instead_of, catalog.methods, "method")
            self.known(("overhauls", code, "kinds"), one.kinds, catalog.kinds, "kind")
            self.known(("overhauls", code, "layouts"), one.layouts, layouts, "layout")
            method = catalog.methods.get(one.method)
            if method is None:
                continue
            if not method.whole:
                self.note("overhauls", code, "method", f"{one.method} is not done once for the whole instrument")
            each = [catalog.methods[other] for other in one.instead_of if other in catalog.methods]
            for fault in sorted({fault for other in each for fault in other.fixes} - set(method.fixes)):
                self.note("overhauls", code, "method", f"{one.method} does not fix {fault}, which it stands in for")

    def kinds(self) -> None:
        catalog = self.catalog
        for code, kind in catalog.kinds.items():
            self.known(("kinds", code, "play_test"), [kind.play_test], catalog.play_tests, "play test")
            self._walk(kind)

    def _walk(self, kind: Kind) -> None:
        codes = {part.code for part in kind.parts}
        options = {option.code: option.choices for option in kind.options}
        for part in kind.parts:
            where = ("layouts", kind.layout, f"parts.{part.code}.role")
            self.known(where, [part.role], self.catalog.roles, "role")
            if part.drawn_on and part.drawn_on not in codes:
                self.note(
                    "layouts", kind.layout, f"parts.{part.code}.drawn_on", f"{kind.code} has no part {part.drawn_on}"
                )
            for only_with in (part.only_with, *(place.only_with for place in part.places)):
                option, _, choice = only_with.partition("=")
                if only_with and choice not in options.get(option, ()):
                    reason = f"{kind.code} has no option {only_with}"
                    self.note("layouts", kind.layout, f"parts.{part.code}.only_with", reason)
            places = [place.code for place in part.places]
            if len(set(places)) != len(places):
                self.note("layouts", kind.layout, f"parts.{part.code}.places", f"{kind.code} has a place twice")

    def coverage(self) -> None:
        """Every fault of every part of every kind has a method at every severity."""
        catalog = self.catalog
        asked = {
            (fault, part.role, kind.code)
            for kind in catalog.kinds.values()
            for part in kind.parts
            for fault in (catalog.roles[part.role].faults if part.role in catalog.roles else ())
        }
        for fault, role, kind_code in sorted(asked):
            if fault not in catalog.faults:
                continue
            for severity in Severity:
                if not methods_for(
                    catalog=catalog, kind=catalog.kinds[kind_code], fault=fault, role=role, severity=severity
                ):
                    self.note("remedies", fault, role, f"no method for {severity} at {kind_code}")
