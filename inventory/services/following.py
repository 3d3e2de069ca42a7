"""What the apps above keep of each instrument follows it, in the transaction of the act that changes it."""

from __future__ import annotations

from collections.abc import Sequence

from core.hooks import Hook

instruments_changed: Hook[[Sequence[int]], None] = Hook()  # keys of those registered, or whose options changed
play_tested: Hook[..., None] = Hook()  # play_test, actor, at
return_inspected: Hook[..., None] = Hook()  # inspection of what came back without one, finished; actor, at
