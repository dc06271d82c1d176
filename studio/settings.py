"""Settings of an installation, read from the environment; what is not said there is safe.

VAR_DIR holds all that an installation writes: database, secret key, collected static files, mail.
"""

import os
from pathlib import Path

import environ
from django.utils.csp import CSP

from studio.secret import read_or_make

BASE_DIR = Path(__file__).resolve().parent.parent

env = environ.Env()
environ.Env.read_env(BASE_DIR / ".env")

VAR_DIR = Path(env("VAR_DIR", default=str(BASE_DIR / "var")))
DEBUG = env.bool("DEBUG", default=False)
DEMO = env.bool("DEMO", default=False)
# Behind TLS: cookies that travel only encrypted, and browsers told to stay there.
SECURE = env.bool("SECURE", default=False)
SECRET_KEY = env("SECRET_KEY", default="") or read_or_make(VAR_DIR / "secret.key")
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["127.0.0.1", "localhost", "[::1]"])
# How the studio's own network reaches it, such as https://floor.studio.example: codes on papers lead there. Where it is
# not said, they lead to wherever the paper was asked for.
BASE_URL = env("BASE_URL", default="").rstrip("/")
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])

INSTALLED_APPS = [
    "jobs",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    "heroicons",
    "axes",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "django_otp.plugins.otp_static",
    "django_tasks_db",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "jobs.views.guarded.GuardedMiddleware",
    "django.middleware.csp.ContentSecurityPolicyMiddleware",
    "jobs.views.signed_in.Sessions",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "jobs.views.signed_in.SignedInMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "jobs.views.language.LanguageMiddleware",
    "jobs.views.middleware.StudioMiddleware",
    "jobs.views.codes.CodeRequired",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "studio.urls"
WSGI_APPLICATION = "studio.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.csp",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "jobs.views.context.studio",
            ],
            "builtins": [
                "django.templatetags.i18n",
                "jobs.templatetags.studio",
                "heroicons.templatetags.heroicons",
            ],
        },
    }
]

# Fields render through templates/django/forms/field.html, on every page alike.
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

DATABASES = {"default": env.db_url("DATABASE_URL", default=f"sqlite:///{VAR_DIR / 'studio.sqlite3'}")}
DATABASES["default"]["CONN_MAX_AGE"] = 60
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # Readers go on while one writes; a writer takes its lock at once instead of failing half way.
    # FULL: a power cut may not take back an hour that a person was told is logged.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA cache_size=-32000;",
    }

if DATABASES["default"]["ENGINE"] == "django.db.backends.postgresql":
    # The database may lie on another machine, which may have been started anew since this connection was last used.
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True

# What takes long is done by workers (manage.py worker), on this machine or others: the database is their queue.
TASKS = {
    "default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": ["dates", "papers"]},
}
# A worker of which nothing was heard for so long is dead, and what it had in hand is taken up again.
LEASE_SECONDS = env.int("LEASE_SECONDS", default=40)

CACHES = {
    # Parts of pages only, under the events that change them: each process may keep its own. What has to hold over all
    # processes (counts of throttles, sessions, wrong passwords and PINs) is in rows.
    "default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"},
}

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "jobs.Account"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "floor"
LOGOUT_REDIRECT_URL = "sign-in"
# A bench tablet stays signed in: half a year, renewed at each use.
SESSION_COOKIE_AGE = 60 * 60 * 24 * 183
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_ENGINE = "studio.sessions"

# What an app for codes shares with the server is for nobody to read, not in the admin either.
OTP_ADMIN_HIDE_SENSITIVE_DATA = True

AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
# Behind a proxy all would come from one address, so that somebody else could lock a name for everybody.
AXES_CLIENT_IP_CALLABLE = "jobs.views.throttle.counted_address"
AXES_LOCKOUT_TEMPLATE = "sign_in_locked.html"

LANGUAGE_CODE = "en"
# What the pages of a bench may speak, as is chosen on each tablet; jobs/locale holds the translations.
BENCH_LANGUAGES = [("en", "English"), ("es", "Español")]
# What pages for customers may speak, as their browsers ask: so far one language, in the forms that its dates have. A
# language is added with its file of translations, and taken from BENCH_ONLY.
BENCH_ONLY = ["es"]
LANGUAGES = [
    *BENCH_LANGUAGES,
    ("en-au", "English, Australia"),
    ("en-ca", "English, Canada"),
    ("en-gb", "English, Britain"),
    ("en-ie", "English, Ireland"),
]
TIME_ZONE = "UTC"  # The studio's own zone is a row; StudioMiddleware activates it for each request.
USE_TZ = True
USE_I18N = True
LOCALE_PATHS = [BASE_DIR / "jobs" / "locale"]
LANGUAGE_COOKIE_AGE = 60 * 60 * 24 * 365 * 2
LANGUAGE_COOKIE_SAMESITE = "Lax"
LANGUAGE_COOKIE_HTTPONLY = True

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = VAR_DIR / "static"
STORAGES = {
    # Several machines need one store for all: a network folder (FILES_OPTIONS={"location": "/mnt/studio/files"}) or a
    # backend of django-storages, such as storages.backends.s3.S3Storage with its bucket.
    "default": {
        "BACKEND": env("FILES_BACKEND", default="django.core.files.storage.FileSystemStorage"),
        "OPTIONS": env.json("FILES_OPTIONS", default={}),
    },
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "studio.static.ModuleStorage"
    },
}
# Files that are kept, as they were sent or taken. Nothing serves them but a view that asks who it is.
MEDIA_ROOT = VAR_DIR / "files"
FILE_UPLOAD_HANDLERS = [
    "studio.uploads.LimitedUpload",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
BACKUP_DIR = Path(env("BACKUP_DIR", default=str(VAR_DIR / "backups")))
FIXTURE_DIRS = [BASE_DIR / "fixtures"]

SECURE_CSP = {
    "default-src": [CSP.SELF],
    "script-src": [CSP.SELF, CSP.NONCE],
    "style-src": [CSP.SELF, CSP.NONCE],
    "img-src": [CSP.SELF, "data:"],
    "connect-src": [CSP.SELF],
    "object-src": [CSP.NONE],
    "base-uri": [CSP.SELF],
    "form-action": [CSP.SELF],
    "frame-ancestors": [CSP.NONE],
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SECURE = SECURE
CSRF_COOKIE_SECURE = SECURE
LANGUAGE_COOKIE_SECURE = SECURE
CSRF_COOKIE_HTTPONLY = True
# By such a name a browser takes a cookie from this very host alone, and encrypted (RFC 6265bis).
_HOST = "__Host-" if SECURE else ""
SESSION_COOKIE_NAME = f"{_HOST}sessionid"
CSRF_COOKIE_NAME = f"{_HOST}csrftoken"
LANGUAGE_COOKIE_NAME = f"{_HOST}django_language"
TABLET_COOKIE_NAME = f"{_HOST}tablet"
SECURE_SSL_REDIRECT = SECURE
SECURE_HSTS_SECONDS = env.int("HSTS_SECONDS", default=31_536_000) if SECURE else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE
SECURE_HSTS_PRELOAD = SECURE
BEHIND_PROXY = env.bool("BEHIND_PROXY", default=False)
if BEHIND_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

# Without a server mail becomes files in VAR_DIR/mail. "at_once" is who waits for somebody at a page.
MAIL_FROM = env("MAIL_FROM", default="studio@localhost")
PUBLIC_ADDRESS = env("PUBLIC_ADDRESS", default="")
_SMTP_HOST = env("SMTP_HOST", default="")
_SMTP = {
    "host": _SMTP_HOST,
    "port": env.int("SMTP_PORT", default=587),
    "username": env("SMTP_USER", default=""),
    "password": env("SMTP_PASSWORD", default=""),
    "use_tls": env.bool("SMTP_TLS", default=True),
    "use_ssl": env.bool("SMTP_SSL", default=False),
}
MAILERS = {
    alias: {"BACKEND": "django.core.mail.backends.smtp.EmailBackend", "OPTIONS": _SMTP | {"timeout": seconds}}
    if _SMTP_HOST
    else {"BACKEND": "studio.eml.EmlBackend", "OPTIONS": {"folder": str(VAR_DIR / "mail")}}
    for alias, seconds in {"default": 60, "at_once": 8}.items()
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"secrets": {"()": "studio.log_filter.WithoutSecrets"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "filters": ["secrets"]}},
    "loggers": {
        "django": {"handlers": ["console"], "level": os.environ.get("LOG_LEVEL", "WARNING")},
        "jobs": {"handlers": ["console"], "level": os.environ.get("LOG_LEVEL", "INFO")},
    },
}

# Compiled planner code is cached beside the data, not in the source tree, which may be read-only.
os.environ.setdefault("NUMBA_CACHE_DIR", str(VAR_DIR / "numba"))
