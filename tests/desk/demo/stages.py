"""A small stage for the demo's acts, set as far as a test needs it."""

from __future__ import annotations

import random

from desk.demo.cast import create_district
from desk.demo.fleet import inspect_fleet, register_fleet
from desk.demo.stage import Stage
from tests.factories import TODAY


def make_stage(
    *, share: float = 0.1, seed: int = 1, peopled: bool = False, fleet: bool = False, seen: bool = False
) -> Stage:
    stage = Stage(today=TODAY, rng=random.Random(seed), share=share)
    if peopled or fleet or seen:
        create_district(stage)
    if fleet or seen:
        register_fleet(stage)
    if seen:
        inspect_fleet(stage)
    return stage
