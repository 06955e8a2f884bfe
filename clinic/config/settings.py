"""One settings module for every installation, read from the environment, production by default.

Every value a practice may set stands in docs/settings.md with its meaning and its default; a test
compares that page with this module. A bad value is refused at start with a sentence.
"""

from dataclasses import asdict
from datetime import timedelta
from pathlib import Path
from typing import Any

import django_stubs_ext
import environ
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured
from django.utils.translation import gettext_lazy as _

from clinic.config import env, mail
from clinic.messages.mailbox.fetching import place_of

# Makes Django's generic classes writable with their types, as in ModelForm[Patient].
django_stubs_ext.monkeypatch()
BASE_DIR = Path(__file__).resolve().parent.parent.parent

# Demo: the invented practice, the demo mailbox and the demo clock. Never with real patients.
DEMO = env.flag("CASEBOOK_DEMO", False)
# Plain HTTP on this machine only (the demo, the tests): no secure cookies, no redirect to HTTPS.
PLAIN_HTTP = env.flag("CASEBOOK_PLAIN_HTTP", False)
DEBUG = False
SECRET_KEY = env.text("CASEBOOK_SECRET_KEY")
if len(SECRET_KEY) < 50:
    raise ImproperlyConfigured("CASEBOOK_SECRET_KEY is shorter than 50 characters. Make a longer one.")
ALLOWED_HOSTS = env.hosts("CASEBOOK_HOSTS", ["localhost", "127.0.0.1"])
# The address that patients' links begin with, without a slash at the end.
_scheme = "http" if PLAIN_HTTP else "https"
PUBLIC_URL = env.origin("CASEBOOK_PUBLIC_URL", f"{_scheme}://{ALLOWED_HOSTS[0]}", plain_http=PLAIN_HTTP)
CSRF_TRUSTED_ORIGINS = [PUBLIC_URL]
VAR_DIR = env.folder("CASEBOOK_VAR_DIR", BASE_DIR / "var")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "clinic.config.statics.WhatPagesAskFor",
    "django.contrib.postgres",
    "django.forms",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "anymail",
    "crispy_forms",
    "csp",
    "django_htmx",
    "phonenumber_field",
    "clinic.trail",
    "clinic.accounts",
    "clinic.patients",
    "clinic.documents",
    "clinic.messages",
    "clinic.diary",
    "whitening.cases",
    "whitening.screening",
    "whitening.consent",
    "whitening.chairside",
    "whitening.recall",
    "whitening.casebook",
    *(["whitening.demo"] if DEMO else []),
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "clinic.accounts.middleware.PrivacyHeaders",
    "clinic.accounts.middleware.ThriftySessionMiddleware",
    "clinic.accounts.middleware.SpokenLanguage",
    "django.middleware.common.CommonMiddleware",
    "clinic.messages.middleware.PrivatePageOrigin",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "clinic.accounts.middleware.ClosedByDefault",
    "allauth.account.middleware.AccountMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "clinic.accounts.middleware.IdleLock",
    "clinic.accounts.middleware.CurrentSite",
]

ROOT_URLCONF = "clinic.config.urls"
WSGI_APPLICATION = "clinic.config.wsgi.application"
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
CRISPY_ALLOWED_TEMPLATE_PACKS = "casebook"
CRISPY_TEMPLATE_PACK = "casebook"
CRISPY_FAIL_SILENTLY = False

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "django.template.context_processors.i18n",
                "clinic.accounts.context.shell",
            ],
        },
    }
]

# --- Database -------------------------------------------------------------------------------------
DATABASE_URL = env.address(
    "CASEBOOK_DATABASE_URL",
    f"sqlite:///{VAR_DIR / 'casebook.sqlite3'}",
    schemes=["sqlite", "postgres", "postgresql"],
)
DATABASES: dict[str, dict[str, Any]] = {
    "default": env.parsed("CASEBOOK_DATABASE_URL", DATABASE_URL, environ.Env.db_url_config)
}
if DATABASE_URL.startswith("sqlite:"):
    DATABASES["default"]["ENGINE"] = "clinic.config.sqlite"
    # IMMEDIATE: a deferred transaction that turns into a writer fails with "database is locked".
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON; "
        # Without it, INSERT OR REPLACE would remove a guarded row and no trigger would fire.
        "PRAGMA recursive_triggers=ON;",
    }
else:
    DATABASES["default"] |= {"CONN_MAX_AGE": 600, "CONN_HEALTH_CHECKS": True}
    # A server that takes no connection is told as away, before the web server ends the waiting worker.
    DATABASES["default"].setdefault("OPTIONS", {}).setdefault("connect_timeout", 10)
DATABASES["default"]["ATOMIC_REQUESTS"] = False
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- Sign-in --------------------------------------------------------------------------------------
AUTH_USER_MODEL = "clinic_accounts.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "today"
ACCOUNT_ADAPTER = "clinic.accounts.adapter.StaffAdapter"
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_USER_DISPLAY = "clinic.accounts.adapter.display_name"
ACCOUNT_EMAIL_VERIFICATION = "none"  # an invitation reached that address
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_LOGOUT_ON_PASSWORD_CHANGE = True
ACCOUNT_REAUTHENTICATION_REQUIRED = True
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_EMAIL_NOTIFICATIONS = True  # whoever changes a sign-in, its owner hears of it
ACCOUNT_EMAIL_UNKNOWN_ACCOUNTS = False  # no mail to strangers, whatever is typed into the form
ACCOUNT_LOGIN_ON_PASSWORD_RESET = False
PASSWORD_RESET_TIMEOUT = 2 * 3600
ALLAUTH_TRUSTED_PROXY_COUNT = env.whole("CASEBOOK_PROXY_COUNT", 0, least=0, most=5)
ACCOUNT_FORMS = {
    "login": "clinic.accounts.forms.sign_in.SignInForm",
    "reset_password": "clinic.accounts.forms.sign_in.ForgottenForm",
    "reset_password_from_key": "clinic.accounts.forms.sign_in.NewPasswordForm",
    "change_password": "clinic.accounts.forms.sign_in.ChangePasswordForm",
    "reauthenticate": "clinic.accounts.forms.sign_in.PasswordAgainForm",
}
MFA_FORMS = {
    "authenticate": "clinic.accounts.forms.sign_in.FactorForm",
    "reauthenticate": "clinic.accounts.forms.sign_in.FactorAgainForm",
    "activate_totp": "clinic.accounts.forms.sign_in.SetUpFactorForm",
    "deactivate_totp": "clinic.accounts.forms.sign_in.GiveUpFactorForm",
    "generate_recovery_codes": "clinic.accounts.forms.sign_in.NewCodesForm",
}
MFA_ADAPTER = "clinic.accounts.adapter.SecondFactorAdapter"
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes"]
MFA_TOTP_ISSUER = "Whitening Casebook"
# The keys that encrypt sign-in secrets and wrap the patients' keys: newest first, all can decrypt.
FIELD_KEYS = env.keys("CASEBOOK_FIELD_KEYS")
if not FIELD_KEYS and not DEMO:
    raise ImproperlyConfigured("CASEBOOK_FIELD_KEYS is not set. Make a key with: python -m clinic.trail.new_key")
# The demo holds invented people only, so a key made from its secret is enough.
FIELD_KEYS = FIELD_KEYS or [env.key_from(SECRET_KEY)]

# Not in a cookie: a message may name a patient, and nothing of a patient stays in the browser.
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"
SESSION_ENGINE = "django.contrib.sessions.backends.db"
SESSION_COOKIE_NAME = "casebook" if PLAIN_HTTP else "__Host-casebook"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = not PLAIN_HTTP
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_NAME = "casebook_csrf" if PLAIN_HTTP else "__Host-casebook-csrf"
CSRF_FAILURE_VIEW = "clinic.accounts.views.problems.csrf_failure"
SESSION_COOKIE_AGE = 8 * 3600
SESSION_EXPIRE_AT_BROWSER_CLOSE = True
IDLE_LOCK_AFTER = timedelta(minutes=5)
SESSION_ABSOLUTE_AGE = timedelta(hours=8)

# --- Transport and browser ------------------------------------------------------------------------
SECURE_SSL_REDIRECT = not PLAIN_HTTP
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if ALLAUTH_TRUSTED_PROXY_COUNT else None
SECURE_REDIRECT_EXEMPT = [r"^health/$", r"^metrics$"]
SECURE_HSTS_SECONDS = 0 if PLAIN_HTTP else 365 * 24 * 3600
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = not PLAIN_HTTP
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "font-src": [SELF],
        "img-src": [SELF, "data:"],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "object-src": [NONE],
        "frame-ancestors": [NONE],
    },
}

# --- Words and time -------------------------------------------------------------------------------
USE_I18N = True
LANGUAGE_CODE = "en"
LANGUAGES = [("en", _("English")), ("es", _("Spanish")), ("de", _("German")), ("ar", _("Arabic"))]
LOCALE_PATHS = [BASE_DIR / "locale"]
USE_TZ = True
TIME_ZONE = "UTC"  # each site names its own zone; nothing is computed in the process's zone
FORMAT_MODULE_PATH = "clinic.config.formats"
# The same shapes once more, for the moments in which no language is active at all.
DATE_FORMAT, SHORT_DATE_FORMAT, TIME_FORMAT, DATETIME_FORMAT = "D j M Y", "j M Y", "H:i", "D j M Y, H:i"
CLOCK_SHIFT = "whitening.demo.clock.shift" if DEMO else ""
PHONENUMBER_DB_FORMAT = "E164"
PHONENUMBER_DEFAULT_FORMAT = "INTERNATIONAL"

# --- Files ----------------------------------------------------------------------------------------
STATIC_URL = "static/"
STATIC_ROOT = env.folder("CASEBOOK_STATIC_ROOT", BASE_DIR / "staticfiles")
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES: dict[str, dict[str, Any]] = {
    "default": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": VAR_DIR / "files"},
    },
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
FILES_DIR = env.folder("CASEBOOK_FILES_DIR", VAR_DIR / "files")
KEYS_DIR = env.folder("CASEBOOK_KEYS_DIR", VAR_DIR / "keys")
TRAIL_ANCHOR_DIR = env.folder("CASEBOOK_TRAIL_ANCHOR_DIR", VAR_DIR / "anchors")
BACKUP_DIR = env.folder("CASEBOOK_BACKUP_DIR", VAR_DIR / "backups")
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_500_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 600
FILE_UPLOAD_HANDLERS = ["clinic.documents.uploads.HeldInMemory"]

# --- Messages -------------------------------------------------------------------------------------
_default_mail = "demomail://" if DEMO else "smtp://localhost:25"
EMAIL_URL = env.text("CASEBOOK_EMAIL_URL", _default_mail)
EMAIL_TIMEOUT = env.whole("CASEBOOK_EMAIL_TIMEOUT_SECONDS", 60, least=5, most=600)
if EMAIL_URL == "demomail://":
    if not DEMO:
        raise ImproperlyConfigured("CASEBOOK_EMAIL_URL is demomail://, which only the demo may use.")
    EMAIL_BACKEND = "whitening.demo.mailbox.DemoMailBackend"
else:
    vars().update(mail.read("CASEBOOK_EMAIL_URL", EMAIL_URL))
# What the mail provider says with each report: name:password, as of HTTP's basic authentication. Empty: no reports.
EMAIL_EVENTS_SECRET = env.text("CASEBOOK_EMAIL_EVENTS_SECRET", "")
if EMAIL_EVENTS_SECRET and (":" not in EMAIL_EVENTS_SECRET or len(EMAIL_EVENTS_SECRET) < 32):
    raise ImproperlyConfigured("CASEBOOK_EMAIL_EVENTS_SECRET is not name:password with 32 characters or more.")
ANYMAIL: dict[str, Any] = vars().get("ANYMAIL", {}) | {"WEBHOOK_SECRET": EMAIL_EVENTS_SECRET}
# The mailbox that answers and returned mails come to; empty: nobody reads it but people.
MAILBOX_URL = env.text("CASEBOOK_MAILBOX_URL", "")
if MAILBOX_URL:
    env.parsed("CASEBOOK_MAILBOX_URL", MAILBOX_URL, lambda value: asdict(place_of(value)))
DEFAULT_FROM_EMAIL = SERVER_EMAIL = env.sender("CASEBOOK_FROM_EMAIL", "casebook@localhost")
# Messages go out from the first hour until just before the second, by the wall clock of the site.
MESSAGES_FROM_HOUR = env.whole("CASEBOOK_MESSAGES_FROM_HOUR", 8, least=0, most=22)
MESSAGES_UNTIL_HOUR = env.whole("CASEBOOK_MESSAGES_UNTIL_HOUR", 20, least=MESSAGES_FROM_HOUR + 1, most=24)
# Where texts go: an Apprise address, or nothing (texts are then off). {to} in it stands for the number.
SMS_URL = env.address("CASEBOOK_SMS_URL", "demosms://" if DEMO else "")

# --- Background -----------------------------------------------------------------------------------
BROKER_URL = env.address("CASEBOOK_BROKER_URL", "filesystem://", schemes=["filesystem", "redis", "rediss"])
CELERY_BROKER_URL = BROKER_URL
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_ACKS_LATE = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_SOFT_TIME_LIMIT = 60
CELERY_TASK_TIME_LIMIT = 90
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_WORKER_CANCEL_LONG_RUNNING_TASKS_ON_CONNECTION_LOSS = True
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_TIMEZONE = "UTC"
if BROKER_URL == "filesystem://":
    _queue = env.folder("CASEBOOK_QUEUE_DIR", VAR_DIR / "queue")
    CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, Any] = {
        # A worker with both hands full looks again after this many seconds. At the library's one second it takes
        # two ticks a second at most: with shorter ticks it falls behind for good and finds each one expired.
        "polling_interval": 0.2,
        "data_folder_in": str(_queue),
        "data_folder_out": str(_queue),
        "control_folder": str(_queue / "control"),
    }
else:
    CELERY_BROKER_TRANSPORT_OPTIONS = {"visibility_timeout": 600, "socket_timeout": 20, "socket_keepalive": True}
TICK_SECONDS = env.whole("CASEBOOK_TICK_SECONDS", 60, least=1, most=300)
CELERY_BEAT_SCHEDULE: dict[str, dict[str, Any]] = {
    "sweep messages": {"task": "messages.sweep", "schedule": TICK_SECONDS, "options": {"expires": TICK_SECONDS}},
    "read mailbox": {"task": "messages.mailbox", "schedule": TICK_SECONDS, "options": {"expires": TICK_SECONDS}},
    "seal trail": {"task": "trail.seal", "schedule": TICK_SECONDS, "options": {"expires": TICK_SECONDS}},
    "anchor trail": {"task": "trail.anchor", "schedule": 3600, "options": {"expires": 3600}},
    "lapse pencilled times": {"task": "diary.lapse", "schedule": TICK_SECONDS, "options": {"expires": TICK_SECONDS}},
    "tidy sign-ins": {"task": "accounts.tidy", "schedule": 86400, "options": {"expires": 3600}},
    "tidy private visits": {"task": "messages.tidy", "schedule": 86400, "options": {"expires": 3600}},
    "follow up": {"task": "recall.tick", "schedule": TICK_SECONDS, "options": {"expires": TICK_SECONDS}},
}
# A file takes one writer at a time: a second sweep would only wait for the first.
if not DATABASE_URL.startswith("sqlite:"):
    CELERY_BEAT_SCHEDULE["sweep messages beside"] = {
        "task": "messages.sweep_beside",
        "schedule": TICK_SECONDS,
        "options": {"expires": TICK_SECONDS},
    }

# --- Cache: shared by every process, for sign-in limits ---------------------------------------------
CACHE_URL = env.text("CASEBOOK_CACHE_URL", "dbcache://casebook_cache")
_cache = env.parsed("CASEBOOK_CACHE_URL", CACHE_URL, environ.Env.cache_url_config)
CACHES: dict[str, dict[str, Any]] = {"default": _cache}
if _cache["BACKEND"].endswith((".LocMemCache", ".DummyCache")):
    raise ImproperlyConfigured("CASEBOOK_CACHE_URL must name a cache that all processes share: failed sign-ins count.")
if _cache["BACKEND"].endswith(".DatabaseCache"):
    # The usual 300 would let a flood of made-up addresses push out the counts of failed sign-ins.
    _cache.setdefault("OPTIONS", {}).setdefault("MAX_ENTRIES", 100_000)
elif _cache["BACKEND"].endswith(".RedisCache"):
    # A Redis that hangs is told as away; without them a sign-in would wait for it without end.
    _cache["OPTIONS"] = {"socket_timeout": 5, "socket_connect_timeout": 5} | _cache.get("OPTIONS", {})

# --- Watching -------------------------------------------------------------------------------------
# A monitor on another machine says it; on this one none is needed.
METRICS_TOKEN = env.text("CASEBOOK_METRICS_TOKEN", "")
if METRICS_TOKEN and len(METRICS_TOKEN) < 32:
    raise ImproperlyConfigured("CASEBOOK_METRICS_TOKEN is shorter than 32 characters. Make a longer one.")
_formatter = env.one_of("CASEBOOK_LOG_FORMAT", "line", ["line", "json"])
LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {
            "()": "clinic.config.logs.QuietFormatter",
            "format": "{asctime} {levelname} {name} {message}",
            "style": "{",
        },
        "json": {"()": "clinic.config.logs.JsonFormatter"},
    },
    "filters": {"secrets": {"()": "clinic.config.logs.HideSecrets"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": _formatter, "filters": ["secrets"]}},
    # It tells of every step of cutting a font.
    "loggers": {"fontTools": {"level": "WARNING"}},
    "root": {"handlers": ["stderr"], "level": env.one_of("CASEBOOK_LOG_LEVEL", "INFO", ["DEBUG", "INFO", "WARNING"])},
}
