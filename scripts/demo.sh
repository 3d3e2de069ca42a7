#!/usr/bin/env bash
# Serves the demo district from a database of its own, demo.sqlite3 in HORNBOOK_VAR_DIR (var); a real installation's
# data is left alone. PORT (8000). What was typed into it stays, also over an upgrade; FRESH=1 loads a fresh one.
# demo.sh dev: with Django's own server, which reloads changed code, and its error pages.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

mode=${1:-demo}
port=${PORT:-8000}
address=http://127.0.0.1:$port
database=$VAR/demo.sqlite3
stamp=$VAR/demo.stamp
log_ins=$VAR/demo-log-ins.txt
media=$VAR/demo-media

port_is_free "$mode"
make_var
exec 9>"$VAR/demo.lock"
if command -v flock >/dev/null && ! flock -n 9; then
  stop "another demo runs from this folder; stop it first"
fi
printf '%s\n' "$address"
say "setting up; the demo answers there when the log-ins are shown below"

level=app
[ "$mode" != dev ] || level=dev
bash scripts/setup.sh "$level" 9>&-

umask 077
export DATABASE_URL=sqlite:///$database HORNBOOK_DEMO=1 HORNBOOK_MEDIA_DIR=$media
unset HORNBOOK_PRODUCTION
[ -n "${HORNBOOK_PUBLIC_ADDRESS:-}" ] || export HORNBOOK_PUBLIC_ADDRESS=$address

# What the rows are made from: another version still serves them, migrated, and says so.
version=$(find desk/demo fixtures -type f -not -name '*.pyc' | LC_ALL=C sort | xargs cat | cksum)
if [ "${FRESH:-}" = 1 ] || [ ! -f "$database" ] || [ ! -f "$stamp" ]; then
  say "loading the demo district"
  rm -rf "$database" "$database-wal" "$database-shm" "$stamp" "$log_ins" "$media" "$media.erased"
  "$PYTHON" manage.py migrate --verbosity 0 9>&-
  "$PYTHON" manage.py load_demo 9>&- | tee "$log_ins.part"
  mv "$log_ins.part" "$log_ins"
  printf '%s\n' "$version" >"$stamp"
else
  "$PYTHON" manage.py migrate --verbosity 0 9>&-
  if [ "$(cat "$stamp")" = "$version" ]; then
    say "the demo district is loaded (FRESH=1 loads a fresh one)"
  else
    say "the demo district is from an earlier version and was migrated (FRESH=1 loads today's)"
  fi
fi

export GREETING_FILE=$log_ins SERVED_ADDRESS=$address
if [ "$mode" = dev ]; then
  export HORNBOOK_DEBUG=1
  cat "$log_ins"
  exec "$PYTHON" scripts/with_worker.py "$PYTHON" manage.py runserver "127.0.0.1:$port"
fi
exec "$PYTHON" scripts/with_worker.py "$PYTHON" -m gunicorn --config scripts/gunicorn_conf.py --bind "127.0.0.1:$port" config.wsgi
