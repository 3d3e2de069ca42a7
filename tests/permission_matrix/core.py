from tests.permission_matrix import Row

ROWS = {
    "core:log-in": Row(None),
    "core:log-out": Row("any", method="post", own=False),
    "core:health": Row(None),
    "core:favicon": Row(None),
}
