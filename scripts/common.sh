# Shared by the scripts beside it: sourced from the project's root.

VENV=.venv
VAR=${HORNBOOK_VAR_DIR:-var} # databases and files, as the settings take it
VAR=${VAR/#\~/$HOME}
PYTHON=$VENV/bin/python
unset PYTHONDONTWRITEBYTECODE # or every process compiles everything again, and each worker rewrites every test's asserts

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

# Makes the folder of databases and files, for this account only.
make_var() {
  mkdir -p -m 700 "$VAR" 2>/dev/null && [ -w "$VAR" ] ||
    stop "$(id -un) may not write to $VAR; give it the folder (chown -R $(id -un) $VAR), or name another by HORNBOOK_VAR_DIR"
}

# with_lock COMMAND...: two set-ups in one folder wait for each other.
with_lock() {
  if command -v flock >/dev/null; then
    flock . "$@"
  else
    "$@"
  fi
}

# port_is_free TARGET: refuses a $port that is none, or taken, before a long set-up.
port_is_free() {
  case $port in '' | 0 | *[!0-9]* | ??????*) stop "PORT is '$port'; use a number such as 8000" ;; esac
  [ "$port" -le 65535 ] || stop "PORT is $port; use a number up to 65535"
  if (exec 3<>"/dev/tcp/127.0.0.1/$port") 2>/dev/null; then
    stop "port $port is taken; try: make $1 PORT=$((port + 1))"
  fi
}

# can_listen HOST: refuses an address that the server could not take, after the set-up.
can_listen() {
  "$PYTHON" - "$1" "$port" <<'PYTHON' || exit 1
import errno
import socket
import sys

host, port = sys.argv[1].strip("[]"), int(sys.argv[2])
try:
    family, kind, *_, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)[0]
    with socket.socket(family, kind) as tried:
        tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        tried.bind(address)
except OSError as error:
    said = {
        errno.EADDRINUSE: f"port {port} of {host} is taken; choose another PORT, or stop what uses it",
        errno.EACCES: f"port {port} needs root; leave PORT at 8000 and let the web server in front take {port}",
    }
    sys.exit(f"!! {said.get(error.errno, f'HOST is {host!r}; this machine has no such address')}")
PYTHON
}

# What a page says does not hang on the database; that each opens on both is among what make test runs on both
# (tests/test_permissions.py). The rest of these folders runs on PostgreSQL in the drill.
PAGE_TESTS=(views pages pdf forms demo)
PURE_TESTS=(browser catalog rules scripts simulation templates) # none of them asks a database

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
