#!/usr/bin/env bash
# Checks what has changed since it left BASE (main; on main itself since the commit before): form, lint, types, and the
# tests that mirror the changed modules. SQLite only. `make test` is the whole.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

[ -x "$VENV/bin/pytest" ] || bash scripts/setup.sh dev
unset DATABASE_URL HORNBOOK_DEMO HORNBOOK_PRODUCTION
base=${BASE:-main}
[ "$(git rev-parse HEAD)" != "$(git rev-parse "$base")" ] || [ -n "$(git status --porcelain)" ] || base=HEAD~1
base=$(git merge-base "$base" HEAD)  # what others have put on main since is not a change of this branch

mapfile -t changed < <({
  git diff --name-only --diff-filter=d "$base"
  git ls-files --others --exclude-standard
} | sort -u)
tests=()
python=()
workers=0
for path in "${changed[@]}"; do
  case $path in
    */migrations/*) ;;
    tests/browser/* | tests/bench/*) ;;
    tests/*/test_*.py | tests/test_*.py) tests+=("$path") ;;
    *.py) python+=("$path") ;;
    templates/*) tests+=(tests/templates) workers=2 ;;
    fixtures/catalog/*) tests+=(tests/inventory/catalog) workers=2 ;;
  esac
done
for path in "${python[@]}"; do
  mirror=tests/$(dirname "$path")/test_$(basename "$path")
  package=tests/$(dirname "$path").py
  [ ! -f "$mirror" ] || tests+=("$mirror")
  package=$(dirname "$package")/test_$(basename "$package")
  [ ! -f "$package" ] || tests+=("$package")
done
mapfile -t tests < <(printf '%s\n' "${tests[@]}" tests/test_architecture.py | sort -u | while read -r path; do
  [ ! -e "$path" ] || printf '%s\n' "$path"
done)
[ ${#tests[@]} -le 3 ] || workers=2  # a few are done before two workers have started

say "${#changed[@]} changed files against ${base:0:10}"
"$VENV/bin/ruff" format --check --quiet .
"$VENV/bin/ruff" check --output-format concise .
[ ${#python[@]} = 0 ] || "$VENV/bin/mypy" config core inventory repairs loans desk
"$PYTHON" -m pytest --quiet -n "$workers" -m "not browser and not drill" --maxfail 10 "${tests[@]}"
