from __future__ import annotations

from typing import Any

from inventory.models import School
from tests.permission_matrix import Row, repairs_day, repairs_money
from tests.permission_matrix.makers import instrument_number
from tests.repairs.makers import make_job


def job_pk(school: School) -> tuple[Any, ...]:
    return (make_job(school=school).pk,)


def bench_code(school: School) -> tuple[Any, ...]:
    return (make_job(school=school).bench.code,)


ROWS = {
    "repairs:jobs": Row("repairs.view_job", own=False),
    "repairs:open-job": Row("repairs.open_job", make=instrument_number),
    "repairs:job": Row("repairs.view_job", make=job_pk),
    "repairs:start-step": Row("repairs.do_step", make=job_pk, method="post"),
    "repairs:wait": Row("repairs.do_step", make=job_pk, method="post"),
    "repairs:stop-clock": Row("repairs.do_step", make=job_pk, method="post"),
    "repairs:do-step": Row("repairs.do_step", make=job_pk, method="post"),
    "repairs:cautions": Row("repairs.do_step", make=job_pk, method="post"),
    "repairs:count-try": Row("repairs.do_step", make=job_pk, method="post"),
    "repairs:try-again": Row("repairs.do_step", make=job_pk, method="post"),
    "repairs:came-free": Row("repairs.do_step", make=job_pk, method="post"),
    "repairs:damage": Row("repairs.do_step", make=job_pk, method="post"),
    "repairs:found": Row("repairs.do_step", make=job_pk),
    "repairs:prove": Row("repairs.close_job", make=job_pk),
    "repairs:give-up": Row("repairs.close_job", make=job_pk),
    "repairs:sheet": Row("repairs.view_job", make=job_pk),
    "repairs:benches": Row("repairs.view_bench", own=False),
    "repairs:add-bench": Row("repairs.change_bench", own=False),
    "repairs:bench": Row("repairs.change_bench", make=bench_code),
    "repairs:retire-bench": Row("repairs.change_bench", make=bench_code),
    "repairs:bring-back-bench": Row("repairs.change_bench", make=bench_code),
}
ROWS |= repairs_money.ROWS | repairs_day.ROWS
