# Everything a person runs here. Each target installs what it needs and may be run again at any time.
SHELL := /bin/bash
.DEFAULT_GOAL := help
.PHONY: help demo dev serve test quick size check drill mutants bench lock shots format clean

help:  ## show this list
	@grep -E '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*##/\t/' | expand -t 12

demo:  ## serve the demo district (PORT=8000, FRESH=1 loads a fresh one)
	@PORT="$(PORT)" FRESH="$(FRESH)" bash scripts/demo.sh

dev:  ## serve the demo with reload and error pages; what was typed stays (PORT=8000)
	@PORT="$(PORT)" FRESH="$(FRESH)" bash scripts/demo.sh dev

serve:  ## serve a real installation (HOST=127.0.0.1, PORT=8000)
	@HOST="$(HOST)" PORT="$(PORT)" bash scripts/serve.sh

test:  ## every test: SQLite, PostgreSQL, browser
	@bash scripts/test.sh

quick:  ## lint, types and tests of what differs from main, in under a minute (BASE=main)
	@BASE="$(BASE)" bash scripts/quick.sh

size:  ## lines of code by room
	@python3 scripts/size.py

check:  ## form, lint, types, floors, templates, packages, migrations, settings, catalog
	@bash scripts/check.sh

drill:  ## what takes long: tests marked drill on both databases and in the browser, then mutants
	@bash scripts/drill.sh

mutants:  ## change the rules one thing at a time, see whether their tests notice (ROOM=repairs/rules, SIZE=200, 0 for all)
	@bash scripts/setup.sh tests && .venv/bin/python scripts/mutants.py --room "$(ROOM)" --size "$(or $(SIZE),200)"

bench:  ## measure what a large district takes (SECTION=pages, SIZE=100000 instruments, JSON=path)
	@bash scripts/setup.sh dev && .venv/bin/python -m tests.bench $(if $(SECTION),--section $(SECTION)) $(if $(SIZE),--size $(SIZE)) $(if $(JSON),--json $(JSON)) $(BENCH)

lock:  ## pin packages with hashes (UPGRADE=1 takes the newest)
	@bash scripts/setup.sh dev && UPGRADE="$(UPGRADE)" bash scripts/lock.sh

shots:  ## take the README's screenshots from the demo
	@bash scripts/setup.sh tests && .venv/bin/python scripts/shots.py

format:  ## put the code in form
	@bash scripts/setup.sh dev && .venv/bin/ruff check --fix-only --quiet . && .venv/bin/ruff format . && .venv/bin/djangofmt --quiet templates

clean:  ## remove what the set-up and the tools made; data in var/ stays
	rm -rf .venv node_modules static/vendor built var/static .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
