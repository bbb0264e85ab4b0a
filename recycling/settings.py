"""Settings: a safe default and an environment variable each (docs/reference/settings.md)."""

from __future__ import annotations

import contextlib
import os
import secrets
import sys
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF

ROOT = Path(__file__).resolve().parent.parent


def _flag(name: str, default: bool) -> bool:
    return os.environ.get(name, str(int(default))).lower() in {"1", "true", "yes", "on"}


def _words(name: str, default: str = "") -> list[str]:
    return [word for word in os.environ.get(name, default).split(",") if word]


def _kept_secret() -> str:
    """Read the secret key's file, made on first start; two that start at once agree."""
    name = os.environ.get("SECRET_KEY_FILE")
    if not name:
        return ""
    path = Path(name)
    if not path.exists():
        draft = path.with_name(f"{path.name}.{os.getpid()}")
        draft.touch(mode=0o600)
        draft.write_text(secrets.token_urlsafe(50))
        with contextlib.suppress(FileExistsError):
            path.hardlink_to(draft)
        draft.unlink()
    return path.read_text().strip()


SAMPLE_SECRET_KEY = "sample-key-for-a-demo-on-this-computer-only-" + "0" * 20
SECRET_KEY = os.environ.get("SECRET_KEY") or _kept_secret() or SAMPLE_SECRET_KEY
DEBUG = _flag("DEBUG", False)
ALLOWED_HOSTS = _words("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]")
CSRF_TRUSTED_ORIGINS = _words("CSRF_TRUSTED_ORIGINS")
DATA_DIR = Path(os.environ.get("DATA_DIR", ROOT / "var"))
BACKUP_KEY = os.environ.get("BACKUP_KEY", "")
BACKUP_KEY_FILE = os.environ.get("BACKUP_KEY_FILE", "")
ERASURES_FILE = Path(os.environ.get("ERASURES_FILE", DATA_DIR / "erasures.jsonl"))

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "rest_framework",
    "drf_spectacular",
    "axes",
    "csp",
    "recycling.ledger",
    "recycling",
    "recycling.web",
    "api",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "recycling.web.request_log.RequestLogMiddleware",
    "recycling.web.readable.ReadableMiddleware",
    "recycling.web.sessions.SessionMiddleware",
    "recycling.web.languages.LanguageMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "recycling.web.budgets.BudgetMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "csp.middleware.CSPMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "recycling.web.people.acting.ActingMiddleware",
    "recycling.web.offline.copies.CopiesMiddleware",
    "axes.middleware.AxesMiddleware",
    "recycling.web.book_away.BookAwayMiddleware",
    "recycling.web.one_moment.OneMomentMiddleware",
]
ROOT_URLCONF = "recycling.urls"
WSGI_APPLICATION = "recycling.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [ROOT / "templates"],
        "APP_DIRS": False,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.messages.context_processors.messages",
                "recycling.web.people.acting.acting",
                "recycling.web.offline.words.device",
            ],
            "libraries": {"ledger": "recycling.web.templatetags.ledger"},
            "builtins": [
                "recycling.web.templatetags.ledger",
                "recycling.web.templatetags.look",
                "recycling.web.templatetags.covered",
            ],
        },
    }
]

SQLITE_OPTIONS = {
    "timeout": 20,
    "transaction_mode": "IMMEDIATE",
    "init_command": (
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;"
        " PRAGMA cache_size=-32000;"
    ),
}
POSTGRES_OPTIONS = {
    "options": "-c lock_timeout=5s -c statement_timeout=15s"
    " -c idle_in_transaction_session_timeout=30s"
}
DATABASE_URL = os.environ.get("DATABASE_URL") or f"sqlite:///{DATA_DIR / 'book.sqlite3'}"
DATABASES = {"default": dj_database_url.parse(DATABASE_URL, conn_max_age=600)}
_default = DATABASES["default"]
if _default["ENGINE"].endswith("sqlite3"):
    _default["OPTIONS"] = SQLITE_OPTIONS
    if not DATABASE_URL.endswith(":memory:"):
        Path(_default["NAME"]).parent.mkdir(parents=True, exist_ok=True)
        _default["TEST"] = {"NAME": str(Path(_default["NAME"]).with_name("test_book.sqlite3"))}
else:
    _default["OPTIONS"] = POSTGRES_OPTIONS
    _default["CONN_HEALTH_CHECKS"] = True
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
SILENCED_SYSTEM_CHECKS = ["axes.W003", "security.W021"]  # lists of browsers are not ours to fill

AUTH_USER_MODEL = "recycling.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "recycling.web.people.People",
]
AXES_FAILURE_LIMIT = 10
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_CLIENT_IP_CALLABLE = "recycling.web.addresses.address_or_none"
AXES_LOCKOUT_TEMPLATE = "people/locked.html"
AXES_ENABLE_ACCESS_FAILURE_LOG = False
AXES_VERBOSE = False
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "sign-in"

TLS = _flag("TLS", False)
SESSION_ENGINE = "recycling.models.people"
SESSION_IDLE_HOURS = float(os.environ.get("SESSION_IDLE_HOURS", "12"))
SESSION_IDLE_LEAD_HOURS = float(os.environ.get("SESSION_IDLE_LEAD_HOURS", "2"))
COOKIE_PREFIX = "__Host-" if TLS else ""
"""Under TLS a cookie of that name comes from this very host only (RFC 6265bis, 4.1.3.2)."""
SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = f"{COOKIE_PREFIX}sessionid", f"{COOKIE_PREFIX}csrftoken"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = TLS
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SECURE_SSL_REDIRECT = TLS
SECURE_HSTS_SECONDS = 31_536_000 if TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = TLS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if TLS else None
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 2**20
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
CSRF_FAILURE_VIEW = "recycling.web.failures.csrf_failure"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "data:"],
        "object-src": [NONE],
        "base-uri": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}

LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("de", "Deutsch")]
LOCALE_PATHS = [ROOT / "recycling" / "locale"]
TIME_ZONE = "UTC"
USE_TZ = True
FORMAT_MODULE_PATH = ["recycling.web.formats"]
STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_DIRS = [("", ROOT / "recycling" / "web" / "static")]
WHITENOISE_KEEP_ONLY_HASHED_FILES = True
WHITENOISE_USE_FINDERS = True
SERVE_UNHASHED_STATIC = _flag("SERVE_UNHASHED_STATIC", False) or "pytest" in sys.modules
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if SERVE_UNHASHED_STATIC or DEBUG
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "api.protocol.authentication.KeyAuthentication",
        "api.protocol.authentication.MemberSessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["api.protocol.authentication.MemberMay"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "api.protocol.problems.problem_response",
    "UNAUTHENTICATED_USER": None,
    "UNAUTHENTICATED_TOKEN": None,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Regrind Ledger",
    "DESCRIPTION": "The book of a workshop that turns donated bottles into filament.",
    "VERSION": "1.0.0",
    "OAS_VERSION": "3.1.0",
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_AUTHENTICATION": [],
    "SERVE_PERMISSIONS": [],
}

REDIS_URL = os.environ.get("REDIS_URL", "")
CELERY_BROKER_URL = REDIS_URL or None
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_TIME_LIMIT = 900
CELERY_BROKER_CONNECTION_TIMEOUT = 1
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "socket_timeout": 1,
    "socket_connect_timeout": 1,
    "max_retries": 1,
    "visibility_timeout": 1800,
}
CELERY_TASK_PUBLISH_RETRY = False
CELERY_BEAT_SCHEDULE = {
    "sweep-jobs": {"task": "recycling.sweep_jobs", "schedule": 15.0},
    "clear-energy-drafts": {"task": "recycling.energy_drafts", "schedule": 3600.0},
    "clear-archives": {"task": "recycling.clear_archives", "schedule": 3600.0},
}
ARCHIVE_HOURS = int(os.environ.get("ARCHIVE_HOURS", "24"))
ENERGY_DRAFT_DAYS = int(os.environ.get("ENERGY_DRAFT_DAYS", "7"))

PUBLIC_ADDRESS = os.environ.get("PUBLIC_ADDRESS", "").rstrip("/")
READ_ONLY = _flag("READ_ONLY", False)
PROXY_HOPS = int(os.environ.get("PROXY_HOPS", "0"))
RECALCULATE_WITHIN_MINUTES = int(os.environ.get("RECALCULATE_WITHIN_MINUTES", "20"))
REQUESTS_A_MINUTE = int(os.environ.get("REQUESTS_A_MINUTE", "600"))
WRONG_KEYS_A_MINUTE = int(os.environ.get("WRONG_KEYS_A_MINUTE", "30"))
UNDO_MINUTES = int(os.environ.get("UNDO_MINUTES", "15"))
RECALCULATE_AT_ONCE_RUNS = int(os.environ.get("RECALCULATE_AT_ONCE_RUNS", "500"))
LOGGING_CONFIG = None
