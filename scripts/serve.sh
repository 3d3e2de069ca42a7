#!/usr/bin/env bash
# Serves a real installation. HOST (127.0.0.1), PORT (8000). Which database it is, the settings alone say, here as for
# every command: DATABASE_URL, or hornbook.sqlite3 in HORNBOOK_VAR_DIR.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

port=${PORT:-8000}
host=${HOST:-127.0.0.1}
port_is_free serve
bash scripts/setup.sh app
can_listen "$host"
umask 077
"$PYTHON" manage.py migrate --verbosity 0
if [ "${HORNBOOK_PRODUCTION:-}" = 1 ]; then
  "$PYTHON" manage.py collectstatic --noinput --verbosity 0
fi
export SERVED_ADDRESS=http://$host:$port
"$PYTHON" manage.py opening_link --address "$SERVED_ADDRESS"
exec "$PYTHON" scripts/with_worker.py "$PYTHON" -m gunicorn --config scripts/gunicorn_conf.py --bind "$host:$port" config.wsgi
