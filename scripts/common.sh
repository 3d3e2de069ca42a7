# Shared by the scripts beside it: sourced from the project's root.

VENV=.venv
PYTHON=$VENV/bin/python

say() { printf '== %s\n' "$*"; }
warn() { printf '!! %s\n' "$*" >&2; }
stop() {
  warn "$*"
  exit 1
}

# Whether packages of the system may be installed from here without asking anybody.
may_install() {
  command -v apt-get >/dev/null && { [ "$(id -u)" = 0 ] || sudo -n true 2>/dev/null; }
}

# as_root COMMAND...: only after may_install.
as_root() {
  if [ "$(id -u)" = 0 ]; then "$@"; else sudo -n "$@"; fi
}

# install_system PACKAGE...: Debian's packages. Answers 1, naming them, when they cannot be installed from here.
install_system() {
  if ! may_install; then
    warn "missing: $*. Install with: apt-get install $*  (this needs root)"
    return 1
  fi
  say "installing from Debian: $*"
  local log
  log=$(mktemp)
  if as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "$@" >"$log" 2>&1 ||
    { as_root apt-get update >>"$log" 2>&1 &&
      as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "$@" >>"$log" 2>&1; }; then
    rm -f "$log"
    return 0
  fi
  tail -n 5 "$log" >&2
  rm -f "$log"
  warn "could not install: $*"
  return 1
}

# with_lock NAME COMMAND...: two set-ups in one folder wait for each other.
with_lock() {
  local name=$1
  shift
  mkdir -p var
  if command -v flock >/dev/null; then
    flock "var/$name.lock" "$@"
  else
    "$@"
  fi
}

find_chromium() {
  local name
  for name in "${HORNBOOK_CHROMIUM:-}" chromium chromium-browser; do
    if [ -n "$name" ] && command -v "$name" >/dev/null; then
      command -v "$name"
      return 0
    fi
  done
  return 1
}

# The folder of PostgreSQL's server programs, newest first.
find_postgres() {
  local folder
  for folder in $(ls -d /usr/lib/postgresql/*/bin 2>/dev/null | sort -Vr) "$(dirname "$(command -v initdb || echo /none/x)")"; do
    if [ -x "$folder/initdb" ] && [ -x "$folder/pg_ctl" ]; then
      printf '%s\n' "$folder"
      return 0
    fi
  done
  return 1
}
