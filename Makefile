# Every target does its own set-up: a fresh Debian 12 needs python3 and make only.
SHELL := /bin/sh
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
APT := python3-venv chromium chromium-driver gdal-bin xvfb xauth poppler-utils fonts-inter libegl1 libgl1 libglib2.0-0 libdbus-1-3 libfontconfig1 libfreetype6 \
       libxkbcommon-x11-0 libxcb-cursor0 libxcb-icccm4 libxcb-image0 libxcb-keysyms1 libxcb-randr0 libxcb-render-util0 \
       libxcb-shape0 libxcb-xinerama0 libxcb-xkb1

.PHONY: env demo test check bench pictures lock samples clean

env: $(VENV)/.ready

# Debian packages are fetched when we may; otherwise named, and the work goes on with what is there.
$(VENV)/.ready: requirements.lock pyproject.toml
	@missing=""; for p in $(APT); do \
	    dpkg-query -W -f '$${Status}' $$p 2>/dev/null | grep -q 'ok installed' || missing="$$missing $$p"; done; \
	if [ -n "$$missing" ] && command -v apt-get >/dev/null; then \
	    if [ "$$(id -u)" = 0 ]; then \
	        apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $$missing; \
	    else echo "These Debian packages are wanted; as root: apt-get install$$missing"; fi; fi
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	touch $@

demo: env
	@$(BIN)/standmap demo --out demo-out

test: env check
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest --numprocesses $$(($$(nproc) + 1))

check: env
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: env
	@$(BIN)/python tests/benchmarks/all.py

# The pictures of the README: the real window on a virtual screen, and the pages of a walk sheet.
pictures: env
	@rm -rf demo-out && $(BIN)/standmap demo --out demo-out --no-window >/dev/null
	@TZ=Europe/Tallinn STANDMAP_TODAY=2026-03-28 xvfb-run -a -s "-screen 0 1600x1000x24" $(BIN)/python -m standmap.desktop.portraits \
	    demo-out/alder-brook.gpkg $(foreach f,ground.geojson trees.csv walk.gpx measurements.csv,--bring sample_stands/alder-brook/$f) \
	    --out resources/pictures
	@TZ=Europe/Tallinn $(BIN)/python docs/figures/walk_sheet.py demo-out/alder-brook.gpkg resources/pictures/walk-sheet.png
	@$(BIN)/python docs/figures/phone_page.py resources/pictures/phone-page.png

# Remakes the invented woods from their seeded script.
samples: env
	$(BIN)/python sample_stands/make.py

# The lock names no registry: it holds versions and hashes only.
lock:
	uv pip compile --quiet --universal --generate-hashes --python-version 3.11 \
	    --custom-compile-command "make lock" pyproject.toml --group dev -o requirements.lock

clean:
	rm -rf $(VENV) demo-out dist .mypy_cache .ruff_cache .pytest_cache .hypothesis
