from tests.permission_matrix import Row
from tests.permission_matrix.makers import instrument_number, tag_token

ROWS = {
    "desk:today": Row("desk.view_today", own=False),
    "desk:scan": Row("desk.scan", own=False),
    "desk:find": Row("desk.scan", own=False),
    "desk:instrument": Row("desk.view_instrument", make=instrument_number),
    "desk:lend": Row("desk.lend", own=False),
    "desk:lend-this": Row("desk.lend", make=instrument_number),
    "desk:lend-walk": Row("desk.lend", make=instrument_number, method="post"),
    "desk:take-back": Row("desk.take_back", make=instrument_number),
    "desk:take-back-walk": Row("desk.take_back", make=instrument_number, method="post"),
    "desk:tag": Row(None, make=tag_token),
    "desk:report": Row(None, make=tag_token),
}
