#!/usr/bin/env bash
# What takes too long for every day: tests marked drill on SQLite, on PostgreSQL and in the browser, then the mutants.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

bash scripts/setup.sh tests
unset DATABASE_URL HORNBOOK_DEMO HORNBOOK_PRODUCTION

# pytest answers 5 where no test carries the marks.
drill() {
  say "drill $1"
  shift
  "$@" --durations=10 || [ $? = 5 ]
}

drill "on SQLite" "$PYTHON" -m pytest -n 2 --dist loadgroup -m "drill and not browser"
if find_postgres >/dev/null; then
  drill "of pages on PostgreSQL" bash scripts/with_postgres.sh "$PYTHON" -m pytest -n 2 --dist loadgroup \
    -m "not browser and not pure" $(find tests -type d \( -false ${PAGE_TESTS[*]/#/-o -name } \))
  drill "on PostgreSQL" bash scripts/with_postgres.sh "$PYTHON" -m pytest -n 2 --dist loadgroup -m "drill and not browser and not pure"
elif [ "${CI:-}" = true ]; then
  stop "no PostgreSQL here, and in CI a skipped suite is a failed one"
else
  warn "SKIPPED the PostgreSQL drill: install the package postgresql"
fi
command -v firefox-esr >/dev/null || install_system firefox-esr || warn "the drill in Firefox will be skipped"
drill "in the browser" "$PYTHON" -m pytest -n 2 -m drill tests/browser
say "mutants"
"$PYTHON" scripts/mutants.py
