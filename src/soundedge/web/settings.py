"""Django's settings. What differs between installations is read in services/people/setting.py and nowhere else."""

from __future__ import annotations

from pathlib import Path

from csp.constants import NONE, SELF
from django.utils.translation import gettext_lazy as _

from ..services.people import setting

HERE = Path(__file__).parent

SECRET_KEY = setting.web_secret()
DEBUG = False
ALLOWED_HOSTS = ["*"]  # a shop's laptop is called by whatever address the tablet sees; links are never built from Host
ROOT_URLCONF = "soundedge.web.urls"
WSGI_APPLICATION = "soundedge.web.wsgi.application"
DATABASES = {"default": setting.database()}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.staticfiles",
    "axes",
    "csp",
    "soundedge.store.accounts",
    "soundedge.web",
]
MIDDLEWARE = [
    "soundedge.web.middleware.Headers",  # outermost: it may take back what the next one adds
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",  # before the files, so that a drawing among them is held too
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "soundedge.web.middleware.Door",
    "axes.middleware.AxesMiddleware",
]
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [HERE / "templates"],
        "APP_DIRS": False,
        "OPTIONS": {
            "context_processors": ["django.template.context_processors.request", "soundedge.web.middleware.around"],
            "libraries": {"bench": "soundedge.web.templatetags.bench", "kept": "soundedge.web.templatetags.kept"},
            "builtins": ["django.templatetags.i18n", "django.templatetags.static", "soundedge.web.templatetags.bench",
                         "soundedge.web.templatetags.kept", "soundedge.web.templatetags.entries"],
        },
    },
]

# ------------------------------------------------------------------ people
AUTH_USER_MODEL = "accounts.Account"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "soundedge.store.accounts.backend.Accounts"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
PEOPLE_CHANGED = setting.people_changed()
AUTH_PASSWORD_VALIDATORS = [{"NAME": "soundedge.web.passwords.LongEnough"}]
LOGIN_URL = "/sign-in/"
# Five wrong passwords close an account for an hour and a half: at most 80 guesses are looked at in a day, and as many more in
# a session of the person, where they are counted apart (services/people/accounts.py); own estimate.
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 1.5
AXES_LOCKOUT_PARAMETERS = ["username"]
AXES_RESET_ON_SUCCESS = False  # sign_in forgets them, where they were counted
AXES_CLIENT_IP_CALLABLE = "soundedge.web.middleware.address"
AXES_LOCKOUT_CALLABLE = "soundedge.web.pages.sign_in.locked"
AXES_USERNAME_FORM_FIELD = "login"
AXES_DISABLE_ACCESS_LOG = True
AXES_VERBOSE = False

# ------------------------------------------------------------------ sessions and cookies
SESSION_ENGINE = "soundedge.store.accounts.sessions"
SESSION_COOKIE_NAME = "__Host-session"
SESSION_COOKIE_SECURE = True
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 12 * 3600
SESSION_EXPIRE_AT_BROWSER_CLOSE = True
IDLE_S, ABSOLUTE_S = 30 * 60, 12 * 3600  # a shared tablet, one shift; own estimate
CSRF_COOKIE_NAME = "__Host-csrf"
CSRF_COOKIE_SECURE = True
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Strict"
CSRF_FAILURE_VIEW = "soundedge.web.pages.refused.csrf"

# ------------------------------------------------------------------ what a browser may do with a page
SECURE_HSTS_SECONDS = 366 * 24 * 3600
SECURE_HSTS_INCLUDE_SUBDOMAINS = True
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "blob:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "media-src": [SELF, "blob:"],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
        "object-src": [NONE],
    }
}

# ------------------------------------------------------------------ requests
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_500_000  # forms and JSON; photos have their own reader and limit
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
FILE_UPLOAD_MAX_MEMORY_SIZE = 2_500_000
APPEND_SLASH = True

# ------------------------------------------------------------------ words, times, files
USE_TZ = True
TIME_ZONE = "UTC"
USE_I18N = True
LANGUAGE_CODE = "en"
LANGUAGES = [("en", _("English")), ("de", _("German"))]
LOCALE_PATHS = [HERE / "locale"]
STATIC_URL = "/static/"
STATICFILES_DIRS = [HERE / "static"]
STATIC_ROOT = None
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False
WHITENOISE_MAX_AGE = 3600
WHITENOISE_ALLOW_ALL_ORIGINS = False

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"lines": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["lines"], "level": "WARNING"},
}
SILENCED_SYSTEM_CHECKS = [
    "security.W008",  # the bench speaks TLS itself or only on this machine; there is nothing to redirect from
    "security.W021",  # HSTS preload is for public names
    "axes.W006",  # an account closes whatever address, browser or cookie the guesses come with
]
