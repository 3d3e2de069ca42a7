"""The inspection walk, from the first tap to the state of the instrument."""

from inventory.services.inspecting.counting import count_accessories
from inventory.services.inspecting.drafts import (
    answer_safety,
    begin_inspection,
    drop_inspection,
    look_at_part,
    look_at_rest,
    record_finding,
    record_findings,
    remove_finding,
    start_inspection,
    take_tap,
)
from inventory.services.inspecting.finishing import finish_inspection
from inventory.services.inspecting.standing import (
    add_bench_finding,
    add_bench_findings,
    carry_over_inspection,
    close_findings,
    reopen_findings,
)
