# Everything here also works without make: see "Without make" in README.md.
PYTHON ?= python3
SERVE ?= 1
# Only BROWSER=0 means something here; desktops set BROWSER to the name of a program.
BROWSER ?= 1
export BROWSER

BIN := .venv/bin
DOCS := docs/_build/html

.PHONY: help demo test check test-full soak system system-if-root set-up docs reference lock format \
	check-lint check-format check-types check-imports check-reference check-docs check-bare

help:
	@echo "make demo       set up, run the demo campaign into demo-campaign/, then serve it (SERVE=0: stop before)"
	@echo "make test       set up and run the quick tests (BROWSER=0: without the browser tests)"
	@echo "make check      style, types, import directions, docs, a fresh install"
	@echo "make test-full  long tests: journeys and statistics"
	@echo "make soak       by hand: workers of a cluster killed while they work"
	@echo "make system     install the Debian packages that are missing"
	@echo "make docs       build the documentation into $(DOCS)"
	@echo "make reference  write the generated reference pages again"
	@echo "make format     put the layout of the code right"
	@echo "make lock       renew requirements.lock.txt (needs uv)"

system:
	@$(PYTHON) tools/system.py

# Whoever may not install goes on: what is then missing fails with the line that installs it.
system-if-root:
	@if [ "$$(id -u)" = 0 ]; then $(PYTHON) tools/system.py || true; fi

set-up:
	@$(PYTHON) tools/set_up.py

demo: set-up
	$(BIN)/gaugewright demo demo-campaign --again
	@if [ "$(SERVE)" = 0 ]; then \
		echo "SERVE=0: the demo stops after the report."; \
	else \
		$(BIN)/gaugewright serve demo-campaign; \
	fi

test: system-if-root set-up
	@start=$$(date +%s); \
	$(BIN)/python -m pytest -n 2 --dist loadfile --durations=10 -m "not long and not full and not bare and not soak"; code=$$?; \
	echo "make test: the tests took $$(( $$(date +%s) - start )) s"; \
	if [ "$(BROWSER)" = 0 ]; then echo "browser tests NOT run"; fi; \
	exit $$code

test-full: system-if-root set-up
	@start=$$(date +%s); \
	$(BIN)/python -m pytest -n 2 --dist loadfile --durations=10 -m "(long or full) and not bare and not soak"; code=$$?; \
	echo "make test-full: the tests took $$(( $$(date +%s) - start )) s"; \
	exit $$code

# Needs the extra "cluster"; says so where it isn't installed.
soak: set-up
	$(BIN)/python -m pytest -m soak -ra

check: check-lint check-format check-types check-imports check-reference check-docs check-bare

check-lint: set-up
	$(BIN)/ruff check .

check-format: set-up
	$(BIN)/ruff format --check .

check-types: set-up
	$(BIN)/mypy

check-imports: set-up
	$(BIN)/lint-imports --no-logo

check-reference: set-up
	$(BIN)/python -m tools.reference --check

check-docs: set-up
	$(BIN)/sphinx-build -q -W --keep-going -E -b html docs $(DOCS)

check-bare: set-up
	$(BIN)/python -m pytest -q -m bare tests/rules

docs: set-up
	$(BIN)/sphinx-build -q -b html docs $(DOCS)
	@echo "open $(DOCS)/index.html"

reference: set-up
	$(BIN)/python -m tools.reference

format: set-up
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

lock:
	uv pip compile --quiet --universal --generate-hashes --no-emit-index-url --extra fast \
		--group dev --upgrade --custom-compile-command "make lock" \
		-o requirements.lock.txt pyproject.toml
