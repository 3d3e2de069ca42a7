"""Turn findings into what they do to the air path: which valve, which slide, which effect."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from inventory.catalog.schema import Effect, Fault, Kind, Part, Role, Severity
from inventory.rules.facts import FindingFact

LOOKS, RISKS, SLOWS, BENDS, LOSES, STOPS, UNSAFE = tuple(Effect)
MISSING = "missing_part"

# What a fault does when no catalog is handed in: light, moderate, severe. Only faults that can reach a note are here.
# The sound-stopping side of UNSAFE faults is none: mold keeps a horn in, it does not take its notes.
_LETTERS = {"-": LOOKS, "R": RISKS, "K": SLOWS, "T": BENDS, "S": LOSES, "X": STOPS, "U": UNSAFE}
_DEFAULTS = {
    "dent_slide_leg": "KKS",
    "tube_kink": "TTX",
    "pinhole": "TTS",
    "crack_brass": "TTS",
    "solder_broken": "RTX",
    "slide_seized": "TTK",
    "slide_dry_sluggish": "KKS",
    "slide_compression_low": "TTS",
    "slide_lock_fail": "RRU",
    "thread_crossed": "-KS",
    "valve_sluggish": "KKS",
    "valve_stuck": "SSS",
    "valve_leak": "TTS",
    "valve_swapped": "SXX",
    "spring_weak": "KKS",
    "valve_guide_worn": "KKS",
    "stem_bent": "KKS",
    "casing_dent": "KKS",
    "piston_damaged": "KSX",
    "rotor_seized": "SSS",
    "rotor_string": "RRS",
    "water_key_leak": "TTS",
    "water_key_spring": "TXX",
    "pad_leak": "TSS",
    "pad_torn": "TSS",
    "pad_sticky": "KKS",
    "pad_missing": "SSX",
    "regulation_off": "TSS",
    "key_bent": "KSS",
    "key_binding": "KKS",
    "spring_broken": "KSS",
    "screw_missing": "RSS",
    "tenon_loose": "-TS",
    "tenon_tight": "-KS",
    "tenon_cork_bad": "-TS",
    "neck_cork_bad": "-TX",
    "octave_vent_leak": "SSS",
    "tone_hole_chip": "TSS",
    "tone_hole_uneven": "TSS",
    "body_crack": "RSX",
    "body_bent_sax": "TSS",
    "mouthpiece_chipped": "TTX",
    "bocal_crack": "TSS",
    "boot_rot": "RTX",
    "foreign_object": "TSX",
    "head_worn": "TTX",
    "snare_wires_bad": "TTS",
    "strainer_fail": "TTS",
    "bar_cracked": "-SS",
    "cord_frayed": "RRS",
    "pedal_creep": "KSS",
    "reed_worn": "TSU",
    "ligature_bent": "-KS",
    "gasket_leak": "TSX",
    "shell_damaged": "-TS",
    "pedal_broken": "KSX",
    "peg_slip": "KKS",
    "post_loose": "-TS",
    "bow_broken": "KSX",
    "bow_hair": "TTX",
    "bridge_bad": "TXU",
    "string_broken": "SSS",
}
DEFAULT_EFFECTS: Mapping[str, Mapping[Severity, Effect]] = {
    code: dict(zip(Severity, (_LETTERS[letter] for letter in letters), strict=True))
    for code, letters in _DEFAULTS.items()
}
# Roles without which no air gets through, when no catalog is handed in.
_VITAL = frozenset(
    {
        "mouthpiece", "receiver", "leadpipe", "tuning_slide", "piston", "rotor", "casing", "hand_slide_inner",
        "hand_slide_outer", "bow_tube", "neck", "bocal", "reed", "ligature", "bow", "bridge",
    }
)  # fmt: skip
_PARTIAL = frozenset({"valve_slide", "pad", "key", "bar", "string", "linkage", "valve_stem", "head", "snare_wires"})
# Parts that air can leak at although it does not pass through them.
_SEALING = frozenset({"water_key", "neck_cork", "cork"})

_WORDS = {"first": "1", "second": "2", "third": "3", "fourth": "4", "thumb": "T", "attachment": "T"}


@dataclass(frozen=True, slots=True)
class Reading:
    """One finding, as the models see it."""

    index: int
    finding: FindingFact
    part: Part
    effect: Effect
    valve: str  # "1" to "4", "T" for a thumb or trigger valve, "" if it belongs to no single valve
    side: str  # "F" or "Bb" where the part belongs to one side of a double horn, else ""

    @property
    def stops(self) -> bool:
        return self.effect is STOPS

    @property
    def loses(self) -> bool:
        return self.effect is LOSES

    @property
    def is_on_air_path(self) -> bool:
        return self.part.in_bore or self.part.role in _SEALING


def effect_of(
    finding: FindingFact,
    *,
    part: Part,
    faults: Mapping[str, Fault] | None = None,
    roles: Mapping[str, Role] | None = None,
) -> Effect:
    """Return the effect that the catalog (or the table here) gives a finding, before any note is computed."""
    if finding.fault == MISSING:
        if roles is not None and part.role in roles:
            return roles[part.role].missing
        return STOPS if part.role in _VITAL else LOSES if part.role in _PARTIAL else RISKS
    if faults is not None and finding.fault in faults:
        return faults[finding.fault].effects[finding.severity]
    return DEFAULT_EFFECTS.get(finding.fault, {}).get(finding.severity, LOOKS)


def read_findings(
    *,
    kind: Kind,
    options: Mapping[str, str],
    findings: Sequence[FindingFact],
    faults: Mapping[str, Fault] | None = None,
    roles: Mapping[str, Role] | None = None,
) -> tuple[Reading, ...]:
    """Return a reading per finding. Findings at parts that this instrument does not have say nothing."""
    parts = {part.code: part for part in kind.parts_for(options)}
    return tuple(
        Reading(
            index=index,
            finding=finding,
            part=parts[finding.part],
            effect=effect_of(finding, part=parts[finding.part], faults=faults, roles=roles),
            valve=valve_of(parts[finding.part], place=finding.place),
            side=side_of(parts[finding.part], place=finding.place),
        )
        for index, finding in enumerate(findings)
        if finding.part in parts
    )


def valve_of(part: Part, *, place: str) -> str:
    """Return the valve that a part, or a place at it, belongs to: "1" to "4", "T", or ""."""
    for text in (place, part.valve, part.code):
        for word in text.casefold().split("_"):
            if word in _WORDS:
                return _WORDS[word]
            if re.fullmatch(r"[1-4]", word):
                return word
            if word == "t":
                return "T"
    return ""


def side_of(part: Part, *, place: str) -> str:
    """Return the side of a double horn that a part (or a place at it) belongs to."""
    words = f"{part.code}_{place}".casefold().split("_")
    if "bb" in words:
        return "Bb"
    return "F" if "f" in words and "attachment" not in words else ""


def millimeters(detail: str) -> float | None:
    """Return the pull-out that a finding states: "pulled 12 mm" is 12.0; None if it states none."""
    match = re.search(r"(\d+(?:\.\d+)?)\s*mm", detail)
    return float(match.group(1)) if match else None


def position(detail: str) -> int | None:
    """Return the slide position that a finding states: "position 4" is 4; None if it states none."""
    match = re.search(r"(?:position|pos\.?)\s*([1-7])", detail.casefold())
    return int(match.group(1)) if match else None
