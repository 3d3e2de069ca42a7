"""What every test stands on. The plugins hold the ground rules; the cast and the make_* functions live beside them."""

pytest_plugins = [
    "tests.plugins.ground",
    "tests.plugins.template",
    "tests.plugins.event_log",
    "tests.plugins.locks",
    "tests.plugins.browser",
    "tests.plugins.hand",
    "tests.plugins.cast",
    "tests.plugins.device",
]
