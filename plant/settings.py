"""The one settings file. Every value that a plant may set is read through plant.env and listed in DEVELOPERS.md."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import dj_database_url
from django.core.exceptions import ImproperlyConfigured
from django.utils.translation import gettext_lazy as _

from plant import env

BASE_DIR = Path(__file__).resolve().parent.parent

DEBUG = env.flag("DEBUG")
DATA_DIR = env.folder("DATA_DIR", BASE_DIR / ".daybook")
KEYS_DIR = env.folder("KEYS_DIR", DATA_DIR / "keys")
FILES_DIR = env.folder("FILES_DIR", DATA_DIR / "files")
MEDIA_ROOT = FILES_DIR

# Commands that neither sign sessions nor serve pages may run without a key.
_KEYLESS = {"makemigrations", "migrate", "check", "compilemessages", "makemessages", "collectstatic", "demo", "verify",
            "proof", "backup", "restore", "load_plan", "help", "grants", "explain", "watch"}
SECRET_KEY = env.text("SECRET_KEY")
if not SECRET_KEY:
    if DEBUG or (len(sys.argv) > 1 and sys.argv[1] in _KEYLESS):
        from django.core.management.utils import get_random_secret_key

        SECRET_KEY = get_random_secret_key()
    else:
        raise ImproperlyConfigured(
            "SECRET_KEY is not set. Set it (or SECRET_KEY_FILE) to a long random text; "
            "sessions and forms are signed with it."
        )

ALLOWED_HOSTS = env.listed("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]")
CSRF_TRUSTED_ORIGINS = env.listed("CSRF_TRUSTED_ORIGINS")

INSTALLED_APPS = [
    "django.contrib.contenttypes",
    "django.contrib.auth",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "crispy_forms",
    "plant.apps.PlantConfig",
    "records.apps.RecordsConfig",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "plant.pages.ContentSecurityPolicy",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "plant.pages.PrivatePages",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "plant.pages.LanguageOfThePerson",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "records.people.middleware.TabletAndPerson",
    "records.people.middleware.RolesTable",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "plant.pages.PlainRefusals",
]

ROOT_URLCONF = "plant.urls"
WSGI_APPLICATION = "plant.wsgi.application"

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
                "plant.pages.context",
            ],
            "builtins": ["plant.templatetags.daybook"],
        },
    }
]

CRISPY_ALLOWED_TEMPLATE_PACKS = ["daybook"]
CRISPY_TEMPLATE_PACK = "daybook"
CRISPY_FAIL_SILENTLY = False

DATABASE_URL = env.text("DATABASE_URL", f"sqlite:///{BASE_DIR / 'daybook.sqlite3'}")
try:
    DATABASES: dict[str, Any] = {"default": dict(dj_database_url.parse(DATABASE_URL))}
except ValueError as error:
    raise ImproperlyConfigured("DATABASE_URL is not a database address that Django knows.") from error
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    env.not_without_its_log(Path(DATABASES["default"]["NAME"]))
    DATABASES["default"]["OPTIONS"] = {
        # Writers queue at BEGIN instead of failing half-way; FULL keeps the last commit when the power fails.
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
    }
else:
    DATABASES["default"]["CONN_MAX_AGE"] = 60
    # A page asks short questions of many parts: compiling one takes a fifth of a second, answering it a hundredth.
    DATABASES["default"].setdefault("OPTIONS", {}).setdefault("options", "-c jit=off")
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "plant.Person"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "records:sign-in"
LOGIN_REDIRECT_URL = "records:home"
SESSION_COOKIE_AGE = 12 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SECURE_COOKIES = env.flag("SECURE_COOKIES")
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_COOKIES
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
if env.flag("BEHIND_TLS_PROXY"):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

IDLE_LOCK_MINUTES = env.whole("IDLE_LOCK_MINUTES", 5, low=1, high=60)

LANGUAGE_CODE = "en"
LANGUAGES = [("en", _("English")), ("es", _("Spanish"))]
LOCALE_PATHS = [BASE_DIR / "plant" / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = env.folder("STATIC_ROOT", DATA_DIR / "static")
WHITENOISE_USE_FINDERS = True
DATA_UPLOAD_MAX_MEMORY_SIZE = 4 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 4 * 1024 * 1024
LARGEST_REQUEST = 30 * 1024 * 1024  # the largest file that is kept (records.ledger.files), and a form around it

# Where recorders speak live; empty: nowhere, and only files are read.
MQTT_URL = env.text("MQTT_URL")
MQTT_TOPICS = env.listed("MQTT_TOPICS", "daybook/#")
MQTT_CLIENT = env.text("MQTT_CLIENT", "daybook")

EMAIL_URL = env.text("EMAIL_URL", "console:")
DEFAULT_FROM_EMAIL = env.text("MAIL_FROM", "daybook@localhost")

BROKER_URL = env.text("BROKER_URL")
CELERY_BROKER_URL = BROKER_URL or "memory://"
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1

LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"no tokens": {"()": "plant.logs.WithoutTokens"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "filters": ["no tokens"]}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
