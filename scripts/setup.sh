#!/bin/sh
# Brings .venv to what the lock says, and Debian's packages where we may. Used by make; quiet when nothing is to do.
#   scripts/setup.sh run     what the bench needs
#   scripts/setup.sh test    that and what the tests need, Chromium and PDF tools included
set -eu
what=$1
python=${PYTHON:-python3}

debian() { # debian PACKAGE... : install when root, else say the exact command
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
        echo "Installing from Debian's packages: $*"
        apt-get update -qq >/dev/null
        DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >/dev/null
    else
        echo "These Debian packages are needed: $*" >&2
        echo "Run: sudo apt-get install -y --no-install-recommends $*" >&2
        return 1
    fi
}

if ! "$python" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info < (3, 14))' 2>/dev/null; then
    echo "Python 3.11, 3.12 or 3.13 is needed; '$python' is not that. Run: make PYTHON=python3.11 …" >&2
    exit 1
fi
if [ ! -x .venv/bin/python ] || ! .venv/bin/python -m pip --version >/dev/null 2>&1; then
    rm -rf .venv
    "$python" -m venv .venv >/dev/null 2>&1 || { rm -rf .venv; debian python3-venv; "$python" -m venv .venv; }
fi

install() { # install LOCK : all that stands in it; Python compiles what is used when it is used first (all of it takes a minute)
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --no-compile --no-deps --require-hashes -r "$1" 2>&1 |
        grep -v '^WARNING: Location ' || true
}

# Debian's packages for the tests; they come while pip installs.
system() {
    missing=
    command -v pdftotext >/dev/null || missing="$missing poppler-utils"
    command -v qpdf >/dev/null || missing="$missing qpdf"
    command -v socat >/dev/null || missing="$missing socat"
    # only its programs: the tests make a cluster of their own (tests/postgres.py) and leave the system's alone
    ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || command -v initdb >/dev/null || missing="$missing postgresql"
    # the browser driver's own runtime is linked against it
    ldconfig -p | grep -q 'libatomic\.so\.1' || missing="$missing libatomic1"
    [ -d /usr/share/doc/opencv-doc ] || missing="$missing opencv-doc"
    # shellcheck disable=SC2086
    [ -z "$missing" ] || debian $missing || echo "Without them some tests fail and say so." >&2
    # the browser without a window does less; the whole one will do
    command -v chromium-headless-shell >/dev/null && return
    if command -v chromium >/dev/null; then
        [ "$(id -u)" != 0 ] || debian chromium-headless-shell 2>/dev/null || true
    else
        debian chromium-headless-shell || debian chromium || echo "Without a browser some tests fail and say so." >&2
    fi
}

if [ "$what" = test ]; then system & fi
lock=requirements/$what.lock
stamp=.venv/$what.installed
sum=$(cat "$lock" pyproject.toml | sha256sum | cut -d' ' -f1)
if [ "$(cat "$stamp" 2>/dev/null || true)" != "$sum" ]; then
    echo "Installing from $lock (hashes checked) …"
    if [ "$what" = run ]; then
        install "$lock"
    else # in two parts side by side: what the bench needs too, and what only the tests need
        awk 'FNR == NR { if (/^[^ #]/) held[$1] = 1; next }
             /^[^ #]/ { part = $1 in held ? "bench" : "tests" }
             part { print > (".venv/" part ".lock") }' requirements/run.lock "$lock"
        install .venv/tests.lock &
        tests=$!
        install .venv/bench.lock
        wait $tests
    fi
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --no-index -e . 2>&1 |
        grep -v '^WARNING: Location ' || true
    .venv/bin/soundedge --version >/dev/null
    [ "$what" = run ] || .venv/bin/python -m pytest --version >/dev/null
    echo "Compiling the heat estimates …"
    .venv/bin/python -c 'from soundedge.heat.compiled import wake; wake()'
    echo "$sum" > "$stamp"
fi
wait
