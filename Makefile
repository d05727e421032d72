# For people: `make demo` and `make test`. The others are for whoever works on the project.
SHELL := /bin/sh
export PYTHON
BUILD := sound
OUT := demo-output

.NOTPARALLEL:
.PHONY: help demo test validation lock bench

help:
	@echo "make demo   set up, judge the demo build, make its starting tables, review its drive; results go to $(OUT)/"
	@echo "make test   set up, then run every check and say what could not be run"

# A verdict ends with 0, 1 (something breaks) or 3 (something is unknown): each is an answer, and the demo has run.
demo:
	@sh tools/setup.sh runtime
	@.venv/bin/boostwright warm-up
	@.venv/bin/boostwright demo $(BUILD) --out $(OUT) || { code=$$?; [ $$code -eq 1 ] || [ $$code -eq 3 ] || exit $$code; }
	@echo
	@.venv/bin/boostwright demo $(BUILD) --tables --out $(OUT)/tables || { code=$$?; [ $$code -eq 1 ] || [ $$code -eq 3 ] || exit $$code; }
	@echo
	@.venv/bin/boostwright demo $(BUILD) --drive --out $(OUT)/drive || { code=$$?; [ $$code -eq 1 ] || [ $$code -eq 3 ] || exit $$code; }

test:
	@sh tools/setup.sh test
	@.venv/bin/python tools/checks.py

# docs/validation.md from the labels of the tests.
validation:
	@sh tools/setup.sh test
	@.venv/bin/python tools/make_validation.py

# New versions of everything that is locked; names no index.
lock:
	@sh tools/setup.sh test
	@sh tools/lock.sh

# Times; take ratios within one run.
bench:
	@sh tools/setup.sh test
	@for file in benchmarks/*.py; do echo "== $$file"; .venv/bin/python "$$file" || exit; done
