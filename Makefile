# Every command of this project. `make demo` shows it, `make test` proves it.
PYTHON ?= python3
VENV := .venv/bin/python
NAME ?=
SECONDS ?= 600
# Dozens of processes begin from these files; told to keep nothing, each compiles all of them again.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: demo demo-check test journey soak chaos bench lint fmt audit lock clean-demo

demo: ; @$(PYTHON) scripts/bootstrap.py && exec $(VENV) -m scripts.demo

demo-check: ; @$(PYTHON) scripts/bootstrap.py && $(VENV) -m scripts.demo_check

# A demo that has been played with starts afresh.
clean-demo: ; rm -rf var/demo

test: ; @$(PYTHON) scripts/bootstrap.py --dev --servers && $(VENV) -m scripts.suite

# One whole case, lived by four people in a browser, on both kinds of installation.
journey: ; @$(PYTHON) scripts/bootstrap.py --dev --servers && .venv/bin/pytest -q -n 0 -m journey

soak: ; @$(PYTHON) scripts/bootstrap.py --dev --servers && $(VENV) -m scripts.suite --soak

# Everything is killed again and again while messages go out; SECONDS=60 for a bounded run.
chaos: ; @$(PYTHON) scripts/bootstrap.py --dev --servers && $(VENV) -m scripts.chaos --seconds $(SECONDS)

bench: ; @$(PYTHON) scripts/bootstrap.py --dev --servers && $(VENV) -m benchmarks $(NAME)

lint: ; @$(PYTHON) scripts/bootstrap.py --dev && $(VENV) -m scripts.lint

fmt: ; @$(PYTHON) scripts/bootstrap.py --dev && $(VENV) -m scripts.fmt

# Asks a public list of known weaknesses, so it needs the network and is not part of `make lint`.
audit: ; @$(PYTHON) scripts/bootstrap.py --dev && .venv/bin/pip-audit --require-hashes --disable-pip -r requirements-dev.txt

# One lock for Python 3.11 to 3.13, with hashes and without an index address.
LOCK := uv pip compile --universal --generate-hashes --no-emit-index-url --no-header --python-version 3.11 -q
lock:
	$(LOCK) pyproject.toml -o requirements.txt
	$(LOCK) pyproject.toml --group dev -o requirements-dev.txt
