#!/usr/bin/env bash
# Pins every package with its hashes: requirements/*.in -> requirements/*.lock, package.json -> package-lock.json.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

export CUSTOM_COMPILE_COMMAND="make lock"
compile() {
  .venv/bin/pip-compile --quiet --generate-hashes --strip-extras --allow-unsafe --resolver=backtracking \
    --no-emit-index-url --no-emit-trusted-host --no-emit-find-links --no-emit-options \
    --output-file "requirements/$1.lock" "requirements/$1.in"
}
for name in app dev node; do
  say "locking requirements/$name.in"
  compile "$name"
done
say "locking package.json"
npm install --package-lock-only --ignore-scripts --no-audit --no-fund --silent
if grep -nE '"resolved"|https?://' requirements/*.lock package-lock.json; then
  stop "the locks name an address (above); they must hold names, versions and hashes only"
fi
