from tests.permission_matrix import Row
from tests.permission_matrix.makers import instrument_number, tag_token

ROWS = {
    "desk:today": Row("desk.view_today", own=False),
    "desk:scan": Row("desk.scan", own=False),
    "desk:find": Row("desk.scan", own=False),
    "desk:instrument": Row("desk.view_instrument", make=instrument_number),
    "desk:tag": Row(None, make=tag_token),
    "desk:report": Row(None, make=tag_token),
}
