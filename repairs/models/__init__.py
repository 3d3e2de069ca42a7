"""Rows of the bench, one import path."""

from repairs.models.work import (
    Attempt,
    AttemptQuerySet,
    Bench,
    BenchQuerySet,
    Job,
    JobQuerySet,
    Outcome,
    StepClock,
)

__all__ = ["Attempt", "AttemptQuerySet", "Bench", "BenchQuerySet", "Job", "JobQuerySet", "Outcome", "StepClock"]
