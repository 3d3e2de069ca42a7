#!/usr/bin/env bash
# Makes the project ready to run: setup.sh app | dev | tests
#   app    .venv from requirements/app.lock, the system's libraries for PDF, browser libraries in static/vendor/
#   dev    the same from requirements/dev.lock
#   tests  dev, and Chromium and PostgreSQL where they may be installed (the tests say what is missing)
# Doing it twice costs nothing, and mends what an interrupted set-up left.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

level=${1:-app}
if [ -z "${SETUP_LOCKED:-}" ]; then
  export SETUP_LOCKED=1
  with_lock bash scripts/setup.sh "$level"
  exit
fi

find_python() {
  local name
  for name in python3 python3.11 python3.12 python3.13; do
    if command -v "$name" >/dev/null && "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
      printf '%s\n' "$name"
      return 0
    fi
  done
  return 1
}

# Whether .venv has a Python that runs, is new enough and brings pip: an upgrade of the system or an interrupted set-up
# may take one of them.
venv_runs() {
  [ -x "$PYTHON" ] && "$PYTHON" -c 'import pip, sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null
}

can_make_venv() { "$1" -c 'import ensurepip, venv' 2>/dev/null; }

make_venv() {
  if venv_runs; then
    return
  fi
  local python
  if ! find_python >/dev/null; then
    may_install || stop "Hornbook needs Python 3.11 or later: as root, apt-get install python3 python3-venv, then run this again"
    install_system python3 python3-venv || true
  fi
  python=$(find_python) || stop "Hornbook needs Python 3.11 or later; this machine has $(python3 --version 2>/dev/null || echo none)"
  if ! can_make_venv "$python"; then
    may_install && install_system python3-venv || true
    can_make_venv "$python" ||
      stop "$python cannot make a virtual environment: as root, apt-get install python3-venv, then run this again"
  fi
  [ -w . ] || stop "$(id -un) may not write to $PWD, where $VENV belongs; run this once as the owner of that folder"
  [ ! -e "$VENV" ] || say "$VENV no longer works (interrupted set-up, or another Python); making a new one"
  say "making $VENV with $("$python" --version)"
  "$python" -m venv --clear "$VENV" && venv_runs ||
    stop "$VENV could not be made: see above; then run this again, it starts over"
}

# install_lock NAME: pip from a lock; asked each time whether all of it is there and whole.
install_lock() {
  local lock=requirements/$1.lock wrong
  if wrong=$("$PYTHON" scripts/installed.py "$lock"); then
    return
  fi
  case $wrong in *damaged*) say "mending $VENV: $(grep -m 1 damaged <<<"$wrong")" ;; esac
  say "installing Python packages from $lock"
  "$PYTHON" -m pip install -qq --disable-pip-version-check --retries 1 --require-hashes --only-binary :all: -r "$lock" ||
    stop "the Python packages are not complete: see above (no network? a full disk?); then run this again, it goes on from here"
}

# WeasyPrint draws text with Pango, which pip cannot bring.
need_pango() {
  if "$PYTHON" -c 'import weasyprint' >/dev/null 2>&1; then
    if command -v fc-list >/dev/null && [ -z "$(fc-list 2>/dev/null | head -n 1)" ]; then
      install_system fonts-dejavu-core || warn "without a font the PDFs have no text"
    fi
    return
  fi
  install_system libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fontconfig fonts-dejavu-core || true
  "$PYTHON" -c 'import weasyprint' 2>/dev/null ||
    stop "PDFs need Pango: libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core"
}

vendor_browser_libraries() {
  local stamp=static/vendor/.stamp want
  want=$(cat package-lock.json scripts/vendor.py | cksum)
  if [ -f "$stamp" ] && [ "$(cat "$stamp")" = "$want" ]; then
    return
  fi
  local npm=npm
  if ! npm --version >/dev/null 2>&1; then
    install_lock node
    npm=$("$PYTHON" scripts/npm_path.py)
    PATH=$(dirname "$npm"):$PATH
  fi
  # A school's network may look into its traffic: trust what the system trusts.
  if [ -z "${NODE_EXTRA_CA_CERTS:-}" ] && [ -f /etc/ssl/certs/ca-certificates.crt ]; then
    export NODE_EXTRA_CA_CERTS=/etc/ssl/certs/ca-certificates.crt
  fi
  say "copying browser libraries to static/vendor/"
  NPM_CONFIG_UPDATE_NOTIFIER=false "$npm" ci --loglevel error --no-audit --no-fund --prefer-offline >/dev/null && "$PYTHON" scripts/vendor.py ||
    stop "the browser libraries are not complete: see above (no network? a full disk?); then run this again"
  printf '%s\n' "$want" >"$stamp"
}

trap 'exit 130' INT
trap 'exit 143' TERM
make_var
make_venv
case $level in
  app) install_lock app ;;
  dev | tests) install_lock dev ;;
  *) stop "setup.sh knows app, dev and tests, not '$level'" ;;
esac
need_pango
vendor_browser_libraries
"$PYTHON" scripts/translations.py
"$PYTHON" scripts/bundle.py

if [ "$level" = tests ]; then
  find_chromium >/dev/null || install_system chromium || warn "browser tests will be skipped"
  find_postgres >/dev/null || install_system postgresql || warn "the PostgreSQL suite will be skipped"
fi
