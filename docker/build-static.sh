#!/bin/sh
# Builds the static binary that the image holds: docker/build-static.sh FOLDER
set -eu
cd "$(dirname "$0")/.."
out=$1
mkdir -p "$out"
# Of the documentation page's library only what the page loads is kept: the other editions are emptied.
SWAGGER_UI_OVERWRITE_FOLDER=$(mktemp -d)
export SWAGGER_UI_OVERWRITE_FOLDER
trap 'rm -rf "$SWAGGER_UI_OVERWRITE_FOLDER"' EXIT
touch "$SWAGGER_UI_OVERWRITE_FOLDER/swagger-ui-es-bundle.js" "$SWAGGER_UI_OVERWRITE_FOLDER/swagger-ui-es-bundle-core.js" \
  "$SWAGGER_UI_OVERWRITE_FOLDER/swagger-ui.js"
# Like functions are kept once: every calculation's reader and writer is made from the same few.
like=-Clink-arg=-Wl,--icf=all
# --target keeps the flags from the build scripts; the path of the sources does not belong into panic messages.
CARGO_TARGET_X86_64_UNKNOWN_LINUX_GNU_RUSTFLAGS="-C target-feature=+crt-static $like --remap-path-prefix=$PWD=/blockwright" \
CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_RUSTFLAGS="-C target-feature=+crt-static $like --remap-path-prefix=$PWD=/blockwright" \
  cargo build --profile dist --locked --package service --bin blockwright --target "$(uname -m)-unknown-linux-gnu"
cp "${CARGO_TARGET_DIR:-target}/$(uname -m)-unknown-linux-gnu/dist/blockwright" "$out/blockwright"
