"""A repair job from opening to the play test that closes it."""

from repairs.services.jobs.clocks import begin_wait, count_try, start_step, stop_clock, take_step_tap
from repairs.services.jobs.lifecycle import give_up_job, open_job, prove_job
from repairs.services.jobs.steps import (
    Damage,
    FreeUse,
    StepResult,
    acknowledge_cautions,
    add_finding_to_job,
    ask_again,
    came_free_after_all,
    do_step,
)
