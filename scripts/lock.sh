#!/usr/bin/env bash
# Pins every package with its hashes: requirements/*.in -> requirements/*.lock, package.json -> package-lock.json.
# What is pinned stays while it fits; UPGRADE=1 takes the newest that the .in files admit.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

export CUSTOM_COMPILE_COMMAND="make lock"
# compile NAME [OPTION...]
compile() {
  local name=$1
  shift
  [ "${UPGRADE:-}" != 1 ] || set -- --upgrade "$@"
  .venv/bin/pip-compile --quiet --generate-hashes --strip-extras --allow-unsafe --resolver=backtracking \
    --no-emit-index-url --no-emit-trusted-host --no-emit-find-links --no-emit-options \
    --output-file "requirements/$name.lock" "$@" "requirements/$name.in"
}
say "locking Python packages"
compile app
compile dev --constraint requirements/app.lock
compile node
say "locking package.json"
npm install --package-lock-only --ignore-scripts --no-audit --no-fund --silent
.venv/bin/python - <<'PYTHON'
"""Leave out where authors of packages ask for money: an address."""
import json
import pathlib

path = pathlib.Path("package-lock.json")
lock = json.loads(path.read_text("utf-8"))
for package in lock["packages"].values():
    package.pop("funding", None)
path.write_text(json.dumps(lock, indent=2, ensure_ascii=False) + "\n", "utf-8")
PYTHON
if grep -nE '"resolved"|https?://' requirements/*.lock package-lock.json; then
  stop "the locks name an address (above); they must hold names, versions and hashes only"
fi
