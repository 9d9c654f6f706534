"""Settings, from the environment variables of `mappings.project.environment` and nothing else; closed by default."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from csp.constants import NONE, SELF

from mappings.project import environment

DATA = environment.data_folder()
SECRET_KEY = environment.secret_key(DATA)
DEBUG = environment.flag("RIPIENO_DEBUG")
ALLOWED_HOSTS = environment.words("RIPIENO_HOSTS", environment.LOCAL_HOSTS)
# A service that answers to other names than this machine's own is a server: it speaks HTTPS only.
PUBLIC = not set(ALLOWED_HOSTS) <= set(environment.LOCAL_HOSTS)

DATABASES = {"default": environment.database(DATA)}
POSTGRES = DATABASES["default"]["ENGINE"] == "django.db.backends.postgresql"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "mappings",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "csp",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
]
MIDDLEWARE = [
    "mappings.project.requestid.RequestId",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]
ROOT_URLCONF = "mappings.project.urls"
WSGI_APPLICATION = "mappings.project.wsgi.application"
APPEND_SLASH = False
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ]
        },
    }
]

AUTH_USER_MODEL = "mappings.User"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"

SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = PUBLIC
SECURE_HSTS_SECONDS = 31_536_000 if PUBLIC else 0
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CSRF_FAILURE_VIEW = "mappings.project.errors.csrf_failure"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}

LANGUAGE_CODE = "en"
TIME_ZONE = "UTC"
USE_I18N = False
USE_TZ = True

STATIC_URL = "/static/"
WHITENOISE_USE_FINDERS = True  # static files are served from the packages: nothing to collect on a single machine
WHITENOISE_AUTOREFRESH = False

# Bodies are read by the API's own parsers, each with its own limit; this one holds for web forms.
DATA_UPLOAD_MAX_MEMORY_SIZE = 256 * 1024
FILE_UPLOAD_HANDLERS = ["django.core.files.uploadhandler.TemporaryFileUploadHandler"]

for _name, _value in environment.email().items():
    globals()[_name] = _value

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "mappings.api.authentication.TokenAuthentication",
        "mappings.api.authentication.CookieAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_PARSER_CLASSES": ["mappings.api.parsers.DocumentParser"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_SCHEMA_CLASS": "mappings.api.schema.Described",
    "EXCEPTION_HANDLER": "mappings.api.problems.handler",
    "DEFAULT_METADATA_CLASS": None,
    "URL_FORMAT_OVERRIDE": None,
    "NUM_PROXIES": 0,  # nobody is believed who says for whom he speaks
    "UNAUTHENTICATED_USER": None,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Ripieno",
    "DESCRIPTION": "Keeps a team's articulation maps, templates and scores, and renders scores to MIDI that is proven on its bytes.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "SERVE_AUTHENTICATION": [],
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "POSTPROCESSING_HOOKS": [],  # enumerations stay where they are: their models name them
}

# Readings and renders. LEASE: how long a carrier may be silent before another takes over; SWEEP: how often
# lost rows are looked for; WALL: longest time of one child.
LEASE = timedelta(seconds=20)
SWEEP = timedelta(seconds=2)
WALL = timedelta(minutes=10)
CHILD = "mappings.child"  # the module that a child process runs
CHILD_MEMORY = 2 * 1024**3  # bytes of address space
CHILD_RESULT = 256 * 1024**2  # bytes of all result files together
CARRY_IN_PROCESS = True  # the web process carries readings and renders itself
QUEUED_PER_TEAM = 20
RUNNING_PER_TEAM = 2
TEAM_BYTES = 20 * 1024**3  # what one team may store

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["console"], "level": "INFO"},
}
BASE = Path(__file__).resolve().parent.parent.parent  # the folder from which `python -m mappings.child` finds this package
