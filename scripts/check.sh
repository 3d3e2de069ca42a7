#!/usr/bin/env bash
# What is held by tools: form, lint, types, floors, templates, packages, migrations, production settings, the catalog.
set -uo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

bash scripts/setup.sh dev || exit 1
unset DATABASE_URL HORNBOOK_DEMO HORNBOOK_PRODUCTION

told=$(mktemp -d)
trap 'rm -rf "$told"' EXIT
titles=()
jobs=()
# run TITLE COMMAND...: begins at once, so that no core waits; what it says is shown in its turn.
run() {
  titles+=("$1")
  shift
  "$@" >"$told/${#jobs[@]}" 2>&1 &
  jobs+=($!)
}

in_production() {
  HORNBOOK_PRODUCTION=1 \
    HORNBOOK_SECRET_KEY=$("$PYTHON" -c 'import secrets; print(secrets.token_urlsafe(60))') \
    HORNBOOK_ALLOWED_HOSTS=horns.district.example \
    HORNBOOK_PUBLIC_ADDRESS=https://horns.district.example \
    "$@"
}

BIN=$VENV/bin
run "types" "$BIN/mypy" config core inventory repairs loans desk
run "migrations on an empty database" "$PYTHON" -m tests.plugins.template
run "form" "$BIN/ruff" format --check --output-format concise .
run "lint" "$BIN/ruff" check --output-format concise .
run "floors" "$BIN/lint-imports" --no-logo
run "form of templates" "$BIN/djangofmt" --check --quiet templates
run "templates" "$BIN/djlint" --lint --quiet templates
run "packages" "$BIN/deptry" .
run "migrations for every model" "$PYTHON" manage.py makemigrations --check --dry-run
run "production settings" in_production "$PYTHON" manage.py check --deploy --fail-level WARNING
run "catalog" "$PYTHON" manage.py check_catalog

failed=()
for number in "${!jobs[@]}"; do
  say "${titles[number]}"
  wait "${jobs[number]}" || failed+=("${titles[number]}")
  cat "$told/$number"
done

if [ ${#failed[@]} -gt 0 ]; then
  printf '!! failed: %s\n' "${failed[@]}" >&2
  exit 1
fi
say "all checks passed"
