"""Checks what types cannot say: that the trade's data holds together, and that no caution is missing."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from itertools import chain

from inventory.catalog.load.folder import Folder
from inventory.catalog.load.problems import Problem
from inventory.catalog.load.reading import did_you_mean
from inventory.catalog.names import methods_for
from inventory.catalog.schema import Catalog, Kind, Method, Rung, Severity
from inventory.rules.picture.art import drawings
from inventory.rules.picture.silhouettes import silhouettes

# Not data: a district's folder may add cautions to hot work, but not take these away.
CAUTIONS = {"flame": ("heat", "fire"), "heat": ("heat",)}
ACKNOWLEDGED = ("heat", "fire", "fume", "lead", "chem")
MOST_RUNGS = 15  # as many as repairs.rules.ladder puts in order whatever comes before what
LEVELS = ("first_year", "second_year", "concert", "marching")
PRICES = ("student", "intermediate")


def check_links(*, catalog: Catalog, folder: Folder) -> list[Problem]:
    """Return every gap and contradiction between the entries of a catalog."""
    checks = _Checks(catalog=catalog, folder=folder)
    checks.hot_work()
    checks.methods()
    checks.ladders()
    checks.overhauls()
    checks.small_things()
    checks.roles()
    for kind in catalog.kinds.values():
        checks.kind(kind)
        checks.walk(kind)
    if not folder.problems and not checks.problems:
        checks.coverage()
    return checks.problems


class _Checks:
    def __init__(self, *, catalog: Catalog, folder: Folder) -> None:
        self.catalog = catalog
        self.folder = folder
        self.problems: list[Problem] = []

    def note(self, section: str, code: str, name: str, reason: str) -> None:
        file = self.folder.files.get((section, code), f"{section}.yaml")
        key = f"{code}.{name}" if section == "layouts" else f"{section}.{code}.{name}"
        self.problems.append(Problem(file, key, reason))

    def small_things(self) -> None:
        parts = {part.code for kind in self.catalog.kinds.values() for part in kind.parts}
        for code, fault in self.catalog.faults.items():
            for unknown in {part for mark in fault.never_issue for part in mark.parts} - parts:
                self.note("faults", code, "never_issue", f"no kind has a part called {unknown}")
        offered = {
            f"{one.code}={choice}"
            for kind in self.catalog.kinds.values()
            for one in kind.options
            for choice in one.choices
        }
        for code, interval in self.catalog.intervals.items():
            if interval.only_with and interval.only_with not in offered:
                self.note("intervals", code, "only_with", f"no kind has the option {interval.only_with}")
            if not interval.method and not any(interval.minutes):
                self.note("intervals", code, "minutes", "needed where no method says them")
        for remedy in self.catalog.remedies:
            if not remedy.methods:
                self.note("remedies", remedy.fault, "methods", "a remedy needs at least one method")
        for code, setting in self.catalog.setting_notes.items():
            if setting.above and setting.value <= self.catalog.settings.get(setting.above, setting.value):
                self.note("settings", code, "value", f"must be more than {setting.above}")

    def roles(self) -> None:
        """What a role says is lost can be said of a part; the pages would fail on anything else in braces."""
        for code, role in self.catalog.roles.items():
            try:
                role.lost.format(part="", where="", place="")
            except (AttributeError, LookupError, ValueError):
                self.note("roles", code, "lost", "expected only {part}, {where} or {place} in braces")

    def hot_work(self) -> None:
        """Work with heat or flame carries its cautions, and they ask for an acknowledgement."""
        for code in ACKNOWLEDGED:
            hazard = self.catalog.hazards.get(code)
            if hazard and not hazard.acknowledge:
                self.note("hazards", code, "acknowledge", "this caution must ask for an acknowledgement")
        for code, method in self.catalog.methods.items():
            self._cautions("methods", code, "", work=method, setup=method.setup)
        for code, ladder in self.catalog.ladders.items():
            for rung in ladder.rungs:
                self._cautions("ladders", code, f"rungs.{rung.code}.", work=rung)
                washed = any(
                    "clean" in self.catalog.methods[need].tags for need in rung.needs if need in self.catalog.methods
                )
                if "flame" in rung.tags and not washed:
                    self.note("ladders", code, f"rungs.{rung.code}.needs", "no flame before the oil is cleaned off")

    def _cautions(self, section: str, code: str, at: str, *, work: Method | Rung, setup: str = "") -> None:
        tags = set(work.tags)
        if ("torch" in work.tools or setup == "torch") and "flame" not in tags:
            self.note(section, code, f"{at}tags", "work with a torch needs the tag flame")
            tags.add("flame")
        for hazard in dict.fromkeys(chain(*(CAUTIONS[tag] for tag in CAUTIONS if tag in tags))):
            if hazard not in work.hazards:
                why = next(tag for tag in CAUTIONS if tag in tags and hazard in CAUTIONS[tag])
                self.note(section, code, f"{at}hazards", f"work with {why} must carry the caution {hazard}")

    def methods(self) -> None:
        for code, method in self.catalog.methods.items():
            self._earlier(method, "needs", method.needs)
            for role, codes in method.needs_at.items():
                self._earlier(method, f"needs_at.{role}", codes)
            self._earlier(method, "after", method.after)
            for after in self._known(method.put_back):
                if after.phase < method.phase:
                    reason = f"{after.code} is of phase {after.phase}, earlier than phase {method.phase}"
                    self.note("methods", code, "put_back", reason)
                if not after.whole:
                    reason = f"{after.code} is not done once for the whole instrument"
                    self.note("methods", code, "put_back", reason)
        self._no_circle()

    def _known(self, codes: Iterable[str]) -> list[Method]:
        return [self.catalog.methods[code] for code in codes if code in self.catalog.methods]

    def _earlier(self, method: Method, name: str, codes: Sequence[str]) -> None:
        for before in self._known(codes):
            if before.phase > method.phase:
                reason = f"{before.code} is of phase {before.phase}, later than phase {method.phase}"
                self.note("methods", method.code, name, reason)

    def _no_circle(self) -> None:
        done: set[str] = set()

        def walk(method: Method, above: tuple[str, ...]) -> None:
            if method.code in done:
                return
            if method.code in above:
                self.note("methods", method.code, "needs", f"goes in a circle by {' > '.join(above)}")
                return
            for before in self._known((*method.needs, *chain(*method.needs_at.values()), *method.after)):
                walk(before, (*above, method.code))
            done.add(method.code)

        for method in self.catalog.methods.values():
            walk(method, ())

    def ladders(self) -> None:
        for code, ladder in self.catalog.ladders.items():
            if not ladder.rungs:
                self.note("ladders", code, "rungs", "a ladder needs at least one rung")
            if len(ladder.rungs) > MOST_RUNGS:
                reason = f"a ladder has at most {MOST_RUNGS} rungs: of more, no order can be proved cheapest"
                self.note("ladders", code, "rungs", reason)
            force = 0
            seen: set[str] = set()
            for rung in ladder.rungs:
                if rung.force < force:
                    reason = f"{rung.force} comes after {force}: gentler rungs come first"
                    self.note("ladders", code, f"rungs.{rung.code}.force", reason)
                force = max(force, rung.force)
                for after in sorted(set(rung.after) - seen):
                    self.note("ladders", code, f"rungs.{rung.code}.after", f"no earlier rung called {after}")
                seen.add(rung.code)

    def overhauls(self) -> None:
        for code, one in self.catalog.overhauls.items():
            for method in self._known([one.method]):
                if not method.whole:
                    self.note("overhauls", code, "method", f"{one.method} is not done once for the whole instrument")
                stands_for = {fault for other in self._known(one.instead_of) for fault in other.fixes}
                for fault in sorted(stands_for - set(method.fixes)):
                    self.note("overhauls", code, "method", f"{one.method} does not fix {fault}, which it stands in for")

    def kind(self, kind: Kind) -> None:
        for one in kind.options:
            if one.default not in one.choices:
                self.note("kinds", kind.code, f"options.{one.code}.default", "not one of the choices")
        for level in kind.levels:
            if level not in LEVELS:
                self.note("kinds", kind.code, f"levels.{level}", f"expected one of {', '.join(LEVELS)}")
        for price in PRICES:
            if price not in kind.prices:
                self.note("kinds", kind.code, f"prices.{price}", "missing")
        self._drawing(kind, "outline", kind.outline, folder="pictures", known=drawings())
        self._drawing(kind, "silhouette", kind.silhouette, folder="pictures/silhouettes", known=silhouettes())

    def _drawing(self, kind: Kind, name: str, drawing: str, *, folder: str, known: Collection[str]) -> None:
        if drawing not in known:
            self.note("kinds", kind.code, name, f"no such file in fixtures/{folder}{did_you_mean(drawing, known)}")

    def walk(self, kind: Kind) -> None:
        codes = {part.code for part in kind.parts}
        for part in kind.parts:
            at = f"parts.{part.code}"
            if part.drawn_on and part.drawn_on not in codes:
                self.note("layouts", kind.layout, f"{at}.drawn_on", f"{kind.code} has no part {part.drawn_on}")
            places = [place.code for place in part.places]
            if len(set(places)) != len(places):
                self.note("layouts", kind.layout, f"{at}.places", f"{kind.code} has a place twice")

    def coverage(self) -> None:
        """Every fault of every part of every kind has a method at every severity."""
        catalog = self.catalog
        needed = {
            (fault, part.role, kind.code)
            for kind in catalog.kinds.values()
            for part in kind.parts
            for fault in catalog.faults_at(part)
        }
        for fault, role, code in sorted(needed):
            for severity in Severity:
                if not methods_for(
                    catalog=catalog, kind=catalog.kinds[code], fault=fault, role=role, severity=severity
                ):
                    self.note("remedies", fault, role, f"no method for {severity} at {code}")
