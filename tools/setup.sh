#!/bin/sh
# Make .venv ready: `sh tools/setup.sh runtime` for the program, `sh tools/setup.sh test` for the checks too.
#
# Needs a Python 3.11 or newer with pip or ensurepip, and at the first run a package registry. What is installed
# stands in requirements/*.lock with hashes. A marker file in .venv carries the key of what was installed, so that a
# second run does nothing and asks no network. All that this writes lies in .tools, .venv and .cache.
set -u

want=${1:-runtime}
case $want in
    runtime | test) ;;
    *)
        echo "setup: say 'runtime' or 'test', not '$want'" >&2
        exit 2
        ;;
esac

cd "$(dirname "$0")/.." || exit 1
log=.cache/setup.log
started=$(date +%s)

stop() { # one clear sentence, then out
    echo "setup: $1" >&2
    exit 1
}

# ------------------------------------------------------------------------------------------------ a Python

new_enough='import sys; raise SystemExit(sys.version_info < (3, 11))'

find_python() {
    for name in ${PYTHON:-} python3 python3.14 python3.13 python3.12 python3.11 python; do
        if command -v "$name" >/dev/null 2>&1 && "$name" -c "$new_enough" >/dev/null 2>&1; then
            command -v "$name"
            return 0
        fi
    done
    return 1
}

say_no_python() {
    for name in python3 python; do
        if found=$("$name" --version 2>&1); then
            stop "Python 3.11 or newer is needed, but $name here is '$found'; install a newer one, or name it: make PYTHON=/path/to/python3.11 demo"
        fi
    done
    stop "Python 3.11 or newer is needed and there is none on the PATH; on Debian: apt install python3-venv python3-pip"
}

# -------------------------------------------------------------------------------------------- one step at a time

tick() { # count the seconds on the terminal's current line, for ever
    while :; do
        printf '\r  %s ... %d s ' "$title" "$(($(date +%s) - begun))"
        sleep 0.5
    done
}

step() { # step "what is done" command...: the command's own words go to the log
    title=$1
    shift
    begun=$(date +%s)
    ticker=
    trap 'if [ -n "$ticker" ]; then kill "$ticker"; fi; echo; stop "interrupted; run make again and it goes on from here"' INT TERM HUP
    printf '\n--- %s: %s\n' "$title" "$*" >>"$log"
    if [ -t 1 ]; then
        tick &
        ticker=$!
    fi
    ("$@") >>"$log" 2>&1 </dev/null # a subshell, so that the trap speaks to the terminal
    code=$?
    if [ -n "$ticker" ]; then
        kill "$ticker"
        wait "$ticker" 2>/dev/null
        printf '\r'
    fi
    trap - INT TERM HUP
    if [ "$code" -eq 0 ]; then ended='done in'; else ended='stopped after'; fi
    printf '  %s ... %s %d s\n' "$title" "$ended" "$(($(date +%s) - begun))"
    return "$code"
}

explain() { # why a step stopped, read from the end of its log
    end=$(tail -n 60 "$log" | tr '[:upper:]' '[:lower:]')
    case $end in
        *"no space left"* | *"os error 28"*)
            stop "the disk is full; about 1 GB is needed here, then run make again" ;;
        *"permission denied"* | *"read-only file system"*)
            stop "this folder or something in it may not be written; take ownership of it or clone into one of your own (the log: $log)" ;;
        *"hash mismatch"* | *"do not match the hashes"*)
            stop "a package that the registry served is not the one that was locked, so nothing of it was installed (the log: $log)" ;;
        *"dns error"* | *"name resolution"* | *"name or service not known"* | *"connection"* | *"connect"* | *"timed out"* | *"unreachable"* | *"certificate"* | *"proxy"* | *"could not find a version"*)
            stop "$1: no package registry answered; check the network (and pip's proxy or index settings), then run make again (the log: $log)" ;;
        *"no module named hatchling"* | *"failed to build"* | *"no matching distribution"* | *"not compatible"* | *"no wheels"*)
            stop "$1: a locked package is not offered ready-made for this Python on this machine; use 64-bit Linux or macOS with Python 3.11 to 3.13 (the log: $log)" ;;
        *)
            stop "$1: it stopped for a reason that the last lines of $log tell" ;;
    esac
}

# --------------------------------------------------------------------------------------------------- the key

locks_of() { # the checks also read published problems, which lie in a lock of their own
    case $1 in
        test) echo requirements/test.lock requirements/instances.lock ;;
        *) echo "requirements/$1.lock" ;;
    esac
}

key_of() { # key_of runtime|test: changes whenever what must be installed changes, or the folder was moved
    # shellcheck disable=SC2046 # names without spaces
    "$python" - $(locks_of "$1") <<'PY'
import hashlib, os, sys, tomllib
with open("pyproject.toml", "rb") as file:
    project = tomllib.load(file)
digest = hashlib.sha256(repr((sys.version, sys.executable, os.getcwd())).encode())
digest.update(repr((project["build-system"], project["project"], project["tool"]["hatch"])).encode())
for name in sys.argv[1:]:
    with open(name, "rb") as file:
        digest.update(file.read())
print(digest.hexdigest())
PY
}

ready() { # ready runtime|test: is what this needs installed?
    [ -f ".venv/.ready-$1" ] && [ "$(cat ".venv/.ready-$1")" = "$(key_of "$1")" ] && [ -x .venv/bin/python ]
}

# -------------------------------------------------------------------------------------------------- the steps

get_uv() { # into .tools, from its own hashed lock, with whatever this Python has: pip, or ensurepip
    rm -rf .tools
    if "$python" -m pip --version >/dev/null 2>&1; then
        "$python" -m venv --without-pip .tools &&
            "$python" -m pip --python .tools/bin/python install --quiet --retries 2 \
                --disable-pip-version-check --require-hashes --requirement requirements/tools.lock
    else
        "$python" -m venv .tools &&
            .tools/bin/python -m pip install --quiet --retries 2 \
                --disable-pip-version-check --require-hashes --requirement requirements/tools.lock
    fi
}

get_packages() { # the locked set, exactly
    rm -f .venv/.ready-*
    if [ ! -x .venv/bin/python ] || [ "$(cat .venv/.made-by 2>/dev/null)" != "$python $PWD" ]; then
        rm -rf .venv
        "$python" -m venv --without-pip .venv || return 1
        echo "$python $PWD" >.venv/.made-by
    fi
    # shellcheck disable=SC2046 # names without spaces
    # What is offered as source only is built with the locked tools of build.lock, never with fetched ones.
    .tools/bin/uv pip install --python .venv/bin/python --require-hashes --no-build --requirement requirements/build.lock &&
        .tools/bin/uv pip sync --python .venv/bin/python --compile-bytecode --require-hashes --no-build-isolation $(locks_of "$want")
}

get_project() { # this very folder, so that an edit of src/ counts at once; fetches nothing
    .tools/bin/uv pip install --python .venv/bin/python --offline --no-deps --no-build-isolation --editable .
}

# uv does not read pip's settings: hand over where pip would look, so that one setting serves both.
follow_pip_settings() {
    if [ -z "${UV_DEFAULT_INDEX:-}${UV_INDEX_URL:-}" ]; then
        index=${PIP_INDEX_URL:-$("$python" -m pip config get global.index-url 2>/dev/null)}
        if [ -n "$index" ]; then export UV_DEFAULT_INDEX="$index"; fi
    fi
    if [ -z "${SSL_CERT_FILE:-}" ] && [ -n "${PIP_CERT:-}" ]; then export SSL_CERT_FILE="$PIP_CERT"; fi
    export UV_PYTHON_DOWNLOADS=never UV_NO_PROGRESS=1 UV_CACHE_DIR="${UV_CACHE_DIR:-$PWD/.cache/uv}"
}

python=$(find_python) || say_no_python
python=$("$python" -c 'import sys; print(sys.executable if sys.prefix == sys.base_prefix else sys._base_executable)')
ready "$want" && exit 0
# The checks' set holds the program's set, so whoever has run `make test` needs nothing for `make demo`.
[ "$want" = runtime ] && ready test && exit 0

(mkdir -p .cache && : >"$log") 2>/dev/null ||
    stop "this folder ($PWD) cannot be written; clone it to one that can"
"$python" -c 'import venv' 2>/dev/null ||
    stop "this Python has no venv module; on Debian: apt install python3-venv"
"$python" -m pip --version >/dev/null 2>&1 || "$python" -c 'import ensurepip' 2>/dev/null ||
    stop "this Python has neither pip nor ensurepip; on Debian: apt install python3-venv python3-pip"

echo "Setting up in $PWD (once; it needs a package registry and about 1 GB of disk)"
follow_pip_settings
if [ ! -x .tools/bin/uv ] || [ "$(cat .tools/.made-by 2>/dev/null)" != "$python $PWD" ]; then
    step "the installer" get_uv || explain "the installer could not be fetched"
    echo "$python $PWD" >.tools/.made-by
fi
# shellcheck disable=SC2046,SC2002 # names without spaces; one count over all files
count=$(cat $(locks_of "$want") | grep -c "^[A-Za-z0-9]")
step "$count packages" get_packages || explain "the packages could not be fetched"
step "boostwright itself" get_project || explain "boostwright could not be installed"
key_of "$want" >".venv/.ready-$want"
echo "Ready after $(($(date +%s) - started)) s"
