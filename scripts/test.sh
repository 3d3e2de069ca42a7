#!/usr/bin/env bash
# Every test that is quick enough for every day (scripts/drill.sh has the others): on SQLite, on PostgreSQL, in the browser.
# Stops at the first of the three that fails, so that pytest's own closing lines end the output. What cannot be installed
# here is named and skipped; with CI=true that is a failure.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

bash scripts/setup.sh tests
unset DATABASE_URL HORNBOOK_DEMO HORNBOOK_PRODUCTION

say "tests on SQLite"
"$PYTHON" -m pytest -n 2 --dist loadgroup -m "not browser and not drill" --durations=10 "$@"

say "tests on PostgreSQL"
if find_postgres >/dev/null; then
  bash scripts/with_postgres.sh "$PYTHON" -m pytest -n 2 --dist loadgroup -m "not browser and not pure and not drill" --durations=10 \
    "${PAGE_TESTS[@]/#/--ignore-glob=*/}" "${PURE_TESTS[@]/#/--ignore-glob=*/}" "$@"
elif [ "${CI:-}" = true ]; then
  stop "no PostgreSQL here, and in CI a skipped suite is a failed one"
else
  warn "SKIPPED the PostgreSQL suite: install the package postgresql"
fi

say "tests in the browser"
# They wait more than they work: a third keeps both cores busy.
"$PYTHON" -m pytest -n 3 --dist worksteal -m "not drill" --durations=10 tests/browser "$@"
