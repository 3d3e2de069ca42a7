from tests.permission_matrix import Row


def a_link(school):
    from django.utils import timezone

    from core.services.accounts import make_link
    from tests.factories import make_user

    return (make_link(user=make_user(school=school), actor=None, at=timezone.now()),)


def any_step(school):
    return (1,)


ROWS = {
    "core:log-in": Row(None),
    "core:log-out": Row("any", method="post", own=False),
    "core:forgotten": Row(None),
    "core:link": Row(None, a_link),
    "core:second-step": Row(None),
    "core:sign-on": Row(None),
    "core:me": Row("any", own=False),
    "core:password": Row("any", own=False),
    "core:confirm": Row("any", own=False),
    "core:add-codes": Row("any", own=False),
    "core:add-passkey": Row("any", own=False),
    "core:remove-step": Row("any", any_step, method="post", own=False),
    "core:recovery-codes": Row("any", method="post", own=False),
    "core:link-sign-on": Row("any", own=False),
    "core:unlink-sign-on": Row("any", method="post", own=False),
    "core:work": Row("any", own=False),
    "core:work-line": Row("any", own=False),
    "core:work-one": Row("any", any_step, own=False),
    "core:work-file": Row("any", any_step, own=False),
    "core:work-again": Row("any", any_step, method="post", own=False),
    "core:health": Row(None),
    "core:favicon": Row(None),
    "core:service-worker": Row(None),
    "core:manifest": Row(None),
    "core:no-signal": Row(None),
    "core:language": Row(None, method="post"),
}
