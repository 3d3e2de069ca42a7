"""All settings, read once from the environment (see DEVELOPERS.md for the list).

Nothing set: a development server. ``HORNBOOK_PRODUCTION=1``: refuses to start on a weak secret, debug on or open hosts.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from urllib.parse import quote, urlsplit

from csp.constants import NONCE, NONE, SELF
from django.http.request import validate_host
from pythonjsonlogger.core import RESERVED_ATTRS

from config import env
from config.database import SQLITE, database, is_migrated, is_one_of
from config.private import keep_private

# Whatever this process writes, an export, a backup or SQLite's side files, is for its own account.
os.umask(0o077)

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = env.own_folder("HORNBOOK_VAR_DIR", BASE_DIR / "var", base=BASE_DIR)

PRODUCTION = env.flag("HORNBOOK_PRODUCTION", default=False)
DEBUG = env.flag("HORNBOOK_DEBUG", default=False)
TESTING = "pytest" in sys.modules

DEVELOPMENT_SECRET = "development-only-secret-of-no-worth-outside-this-folder"  # noqa: S105  # refused in production
WORTHLESS = (DEVELOPMENT_SECRET, "django-insecure-")  # how a key begins that is known, or was made for development
SECRET_KEY = env.text("HORNBOOK_SECRET_KEY", DEVELOPMENT_SECRET)
ALLOWED_HOSTS = env.words("HORNBOOK_ALLOWED_HOSTS", ("127.0.0.1", "localhost", "[::1]", "testserver"))
# Where phones reach this server, e.g. https://horns.district.example: printed into the tags, so it must be right.
PUBLIC_ADDRESS = env.web_address("HORNBOOK_PUBLIC_ADDRESS")

VERSION = "0.7.0"  # the newest of CHANGELOG.md

# These may answer from the demo while no real installation has begun.
READING_COMMANDS = {"check_catalog", "diagnose", "explain", "ladder_order", "plan", "playing", "verify"}


def default_database_url() -> str:
    """The installation's database; while there is none, commands that only read take the demo's.

    A command that writes never does: what is meant for the school must not end in the demo.
    """
    real, demo = VAR_DIR / "hornbook.sqlite3", VAR_DIR / "demo.sqlite3"
    only_reads = not PRODUCTION and len(sys.argv) > 1 and sys.argv[1] in READING_COMMANDS
    chosen = demo if only_reads and not is_migrated(real) and is_migrated(demo) else real
    return f"sqlite:///{quote(str(chosen))}"


DATABASE_URL = env.text("DATABASE_URL") or default_database_url()
DATABASES = {"default": database(DATABASE_URL, base=BASE_DIR)}
DEMO_FILES = {folder / "demo.sqlite3" for folder in (VAR_DIR, BASE_DIR / "var")}
_is_demo = is_one_of(DATABASES["default"]["NAME"], DEMO_FILES) and not TESTING
DEMO = env.flag("HORNBOOK_DEMO", default=_is_demo)
if DEMO and not PUBLIC_ADDRESS:
    PUBLIC_ADDRESS = "http://127.0.0.1:8000"  # leads nowhere from a phone; every sheet says loudly that it is a demo's

if PRODUCTION:
    if DEBUG:
        raise env.SettingError("HORNBOOK_DEBUG is on; production never runs with debug")
    if SECRET_KEY.startswith(WORTHLESS) or len(SECRET_KEY) < 50 or len(set(SECRET_KEY)) < 10:
        raise env.SettingError("HORNBOOK_SECRET_KEY is missing or weak; use 50 or more random characters")
    if "HORNBOOK_ALLOWED_HOSTS" not in os.environ or not ALLOWED_HOSTS or any(map(env.is_open_host, ALLOWED_HOSTS)):
        raise env.SettingError("HORNBOOK_ALLOWED_HOSTS is open; name the hosts this server answers to")
    if not PUBLIC_ADDRESS.startswith("https://"):
        raise env.SettingError("HORNBOOK_PUBLIC_ADDRESS is not https; phones give no camera without it")
    if not validate_host(urlsplit(PUBLIC_ADDRESS).hostname or "", ALLOWED_HOSTS):
        raise env.SettingError(
            "HORNBOOK_PUBLIC_ADDRESS is not among HORNBOOK_ALLOWED_HOSTS; every tag would lead nowhere"
        )
    if DEMO or _is_demo:
        raise env.SettingError("HORNBOOK_DEMO is on, or DATABASE_URL names the demo; its passwords are known")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django_htmx",
    "template_partials",
    "django_tables2",
    "csp",
    "django_tasks",
    "django_tasks_db",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "core",
    "inventory",
    "repairs",
    "loans",
    "desk",
]
if TESTING:
    INSTALLED_APPS.append("zeal")

MIDDLEWARE = [
    "core.middleware.RequestIdMiddleware",  # first, so that every log line of the request carries the id
    "core.middleware.HealthMiddleware",
    "core.middleware.MetricsMiddleware",
    "core.middleware.ClientAddressMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "core.middleware.CompressionMiddleware",  # also of files that were not compressed beforehand
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "core.middleware.ScopeMiddleware",  # after the files that it is nothing to, before whatever tells the time
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",  # by the cookie of core:language, else as the browser asks
    "django.middleware.common.CommonMiddleware",
    "core.middleware.IncomingMiddleware",  # before the body is read for the form's token
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "allauth.account.middleware.AccountMiddleware",  # keeps the request for core/second_steps.py
    "core.middleware.FirstThingsMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "csp.middleware.CSPMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "core.middleware.SavedFormMiddleware",  # last: it hears of what reached a view
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "OPTIONS": {
            "loaders": [
                (
                    "template_partials.loader.Loader",
                    [
                        (
                            "core.template_loader.Loader",
                            [
                                "django.template.loaders.filesystem.Loader",
                                "django.template.loaders.app_directories.Loader",
                            ],
                        )
                    ],
                )
            ],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "core.context.site",
                "desk.context.rooms",
            ],
        },
    }
]
# What is done after the response, by the worker: kept in the database, in the transaction of the act that asks for it.
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "core.User"
AUTHENTICATION_BACKENDS = ["core.access.RoleBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
    {"NAME": "core.passwords.CommonValidator"},
    {"NAME": "core.passwords.RepetitionValidator"},
    {"NAME": "core.passwords.PlaceValidator"},
]
# The second step of the log-in (core/second_steps.py). Nothing else of the package is in use.
MFA_ADAPTER = "core.second_steps.Adapter"
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_TOTP_TOLERANCE = 1  # codes of the half-minute before and after: clocks of phones differ
MFA_RECOVERY_CODE_DIGITS = 12
# Single sign-on by OpenID Connect; off where no issuer is named. The password goes on beside it.
SIGN_ON_ISSUER = env.text("HORNBOOK_SIGN_ON_ISSUER")
SIGN_ON_CLIENT_ID = env.text("HORNBOOK_SIGN_ON_CLIENT_ID")
SIGN_ON_CLIENT_SECRET = env.text("HORNBOOK_SIGN_ON_CLIENT_SECRET")
SIGN_ON_NAME = env.text("HORNBOOK_SIGN_ON_NAME", "district account")  # the button says "Log in with your …"
env.check_sign_on(SIGN_ON_ISSUER, SIGN_ON_CLIENT_ID, SIGN_ON_CLIENT_SECRET)
LOGIN_URL = "core:log-in"
LOGIN_REDIRECT_URL = "desk:today"
LOGOUT_REDIRECT_URL = "core:log-in"

# Wrong tries to log in before the next one waits (core/caps.py): for one name from one network or known device, for one
# name from anywhere, from one address, from one network, and how many different names a network may try.
LOG_IN_TRIES = env.number("HORNBOOK_LOG_IN_TRIES", 5, low=1)
LOG_IN_TRIES_PER_NAME = env.number("HORNBOOK_LOG_IN_TRIES_PER_NAME", 20, low=1)
LOG_IN_TRIES_PER_ADDRESS = env.number("HORNBOOK_LOG_IN_TRIES_PER_ADDRESS", 20, low=1)
LOG_IN_TRIES_PER_NETWORK = env.number("HORNBOOK_LOG_IN_TRIES_PER_NETWORK", 60, low=1)
LOG_IN_NAMES_PER_NETWORK = env.number("HORNBOOK_LOG_IN_NAMES_PER_NETWORK", 10, low=1)

# Sessions end: after a working day, or when the browser closes.
SESSION_COOKIE_AGE = env.number("HORNBOOK_SESSION_HOURS", 10, low=1) * 3600
SESSION_EXPIRE_AT_BROWSER_CLOSE = True
# What a phone could not send waits on it, encrypted, for this long.
DEVICE_HOURS = env.number("HORNBOOK_DEVICE_HOURS", 72, low=1)
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_FAILURE_VIEW = "core.views.csrf_failure"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = PRODUCTION
SECURE_SSL_REDIRECT = PRODUCTION
SECURE_REDIRECT_EXEMPT = [r"^healthz$"]  # asked on this machine, without the proxy (core.middleware.HealthMiddleware)
# Browsers refuse plain HTTP for so long, whatever becomes of the certificate: a day at first, more when it has proved
# itself. Other hosts of the district are not ours to speak for.
SECURE_HSTS_SECONDS = env.number("HORNBOOK_HSTS_SECONDS", 86_400 if PRODUCTION else 0)
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]  # subdomains and preload
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
# How many web servers of our own stand in front, each adding to X-Forwarded-For the address it was asked from.
PROXIES = env.number("HORNBOOK_PROXIES", 1 if PRODUCTION else 0)
if PRODUCTION:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    CSRF_TRUSTED_ORIGINS = [PUBLIC_ADDRESS]

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF, NONCE],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "media-src": [SELF, "blob:"],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}

LANGUAGE_CODE = "en-us"
LANGUAGES = [("en", "English"), ("es-mx", "Español")]  # Mexico's way to write numbers: 1,216.81
LANGUAGE_COOKIE_AGE = 365 * 24 * 3600
LANGUAGE_COOKIE_SAMESITE = "Lax"
LOCALE_PATHS = [BASE_DIR / "locale"]
TIME_ZONE = env.time_zone("HORNBOOK_TIME_ZONE", "America/Chicago")  # until the district sets its own under Setup
USE_I18N = True
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
STATIC_ROOT.mkdir(mode=0o700, exist_ok=True)
# What scripts/bundle.py has made of our files stands in their place, but for whoever changes them.
STATICFILES_DIRS = [
    BASE_DIR / name for name in ("built", "static") if (BASE_DIR / name).is_dir() and not (DEBUG and name == "built")
]
STORAGES = {
    "default": {"BACKEND": "core.storage.KeptFiles"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if PRODUCTION
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = not PRODUCTION
WHITENOISE_IMMUTABLE_FILE_TEST = r"(\.[0-9a-f]{12}|/chunk-[0-9A-Z]{8})\.\w+$"  # named after what is in it
# Photos and signed papers: served only through views that ask who is looking, never by address.
MEDIA_ROOT = env.own_folder("HORNBOOK_MEDIA_DIR", VAR_DIR / ("demo-media" if _is_demo else "media"), base=BASE_DIR)
MEDIA_URL = ""
# The list of erasures, which a restored backup is held against; it must not be lost with the database.
ERASURES_FILE = env.text("HORNBOOK_ERASURES_FILE")
FILE_UPLOAD_PERMISSIONS, FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o600, 0o700
if not TESTING:
    keep_private(
        (VAR_DIR, MEDIA_ROOT),
        [row["NAME"] for row in DATABASES.values() if row["ENGINE"] == SQLITE],
        must=PRODUCTION,
    )
DATA_UPLOAD_MAX_MEMORY_SIZE = 3 * 1024 * 1024
STRANGERS_BODY_BYTES = 32 * 1024  # a log-in, a new password, a report of a problem
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
PHOTO_MAX_BYTES = env.number("HORNBOOK_PHOTO_MAX_MB", 50, low=1) * 1024 * 1024
UPLOAD_MAX_BYTES = max(PHOTO_MAX_BYTES, 25 * 1024 * 1024)  # of one photo or list

HORNBOOK_CATALOG_DIR = env.folder("HORNBOOK_CATALOG_DIR")
REPORTS_PER_HOUR = env.number("HORNBOOK_REPORTS_PER_HOUR", 5, low=1)

# Mail, for links to set a new password; without it an administrator hands the link over.
EMAIL_URL = env.text("HORNBOOK_EMAIL_URL")
MAIL_IS_SET = bool(EMAIL_URL)
globals().update(env.mail(EMAIL_URL))
DEFAULT_FROM_EMAIL = env.text("HORNBOOK_EMAIL_FROM")
if MAIL_IS_SET and "@" not in DEFAULT_FROM_EMAIL:
    raise env.SettingError("HORNBOOK_EMAIL_FROM is missing; name the address that mail comes from")
DJANGO_TABLES2_TEMPLATE = "components/table.html"
DJANGO_TABLES2_TABLE_ATTRS = {"class": "table"}

# Metrics for monitoring, on a port of their own: never through the proxy.
METRICS_PORT = env.number("HORNBOOK_METRICS_PORT", 0)
METRICS_HOST = env.text("HORNBOOK_METRICS_HOST", "127.0.0.1")
RUNS_FILE = VAR_DIR / "runs.json"  # when each step of the nightly run last went well (core/runs.py)
# Archives of years, and the key that signs them: outside the database, and in no backup.
ARCHIVES_DIR = VAR_DIR / ("demo-archives" if _is_demo else "archives")
ARCHIVE_KEY_FILE = BASE_DIR / Path(
    env.text("HORNBOOK_ARCHIVE_KEY_FILE") or VAR_DIR / ("demo-archive.key" if _is_demo else "archive.key")
)
METRICS_DIR = VAR_DIR / "metrics"  # where the processes of the server add up what they count

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {
        "request_id": {"()": "core.request_id.RequestIdFilter"},
        "one_line": {"()": "core.request_id.OneLineFilter"},
        "keys": {"()": "core.request_id.KeyFilter", "addresses": ["/S/", "/calendar/", "/log-in/link/", "/begin/"]},
    },
    "formatters": {
        "plain": {"format": "{asctime} {levelname} {name} [{request_id}] {message}", "style": "{"},
        "json": {
            "()": "pythonjsonlogger.json.JsonFormatter",
            "format": "{levelname}{name}{request_id}{message}",
            "style": "{",
            "rename_fields": {"levelname": "level", "name": "logger"},
            "timestamp": "time",
            "reserved_attrs": [*RESERVED_ATTRS, "request"],  # its address is in the message, and its id beside
        },
    },
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "formatter": env.choice("HORNBOOK_LOG_FORMAT", ("plain", "json")),
            "filters": ["request_id", "one_line", "keys"],
        }
    },
    "root": {"handlers": ["console"], "level": "WARNING"},
}
# Alerts are collected and fail the test after the request (tests/plugins/ground.py): raised inside a table's cell, the
# table would swallow them and show a dash.
ZEAL_RAISE = False
# One act writes several events, each service reads afresh the row it is about to change, and logging out reads once
# more the session it throws away; no list is read row by row.
ZEAL_ALLOWLIST = [
    {"model": model, "field": "get*"}
    for model in ("core.EventHead", "core.User", "inventory.Instrument", "inventory.Inspection", "sessions.Session")
]
