#!/bin/sh
# Lock again what requirements/*.in ask for: newest versions, with hashes, for every platform, naming no index.
set -eu
cd "$(dirname "$0")/../requirements"
compile() {
    ../.tools/bin/uv pip compile --quiet --upgrade --universal --python-version 3.11 --generate-hashes \
        --no-emit-index-url --no-header "$@"
}
compile --output-file tools.lock tools.in
compile --output-file build.lock build.in
compile --output-file runtime.lock --constraint build.lock runtime.in
compile --output-file test.lock --constraint runtime.lock test.in
compile --no-deps --output-file instances.lock instances.in
