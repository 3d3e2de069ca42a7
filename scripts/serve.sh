#!/usr/bin/env bash
# Serves a real installation: var/hornbook.sqlite3, or DATABASE_URL. HOST (127.0.0.1), PORT (8000).
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

port=${PORT:-8000}
host=${HOST:-127.0.0.1}
if (exec 3<>"/dev/tcp/127.0.0.1/$port") 2>/dev/null; then
  stop "port $port is taken; try: make serve PORT=$((port + 1))"
fi
bash scripts/setup.sh app
[ -n "${DATABASE_URL:-}" ] || export DATABASE_URL=sqlite:///$PWD/var/hornbook.sqlite3
"$PYTHON" manage.py migrate --verbosity 0
if [ "${HORNBOOK_PRODUCTION:-}" = 1 ]; then
  "$PYTHON" manage.py collectstatic --noinput --verbosity 0
fi
export SERVED_ADDRESS=http://$host:$port
exec "$VENV/bin/gunicorn" --config scripts/gunicorn_conf.py --bind "$host:$port" config.wsgi
