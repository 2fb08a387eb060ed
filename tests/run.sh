#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# Builds everything and runs all tests.
#   bash tests/run.sh [CTEST-OPTION...]     for instance: bash tests/run.sh -R file_set
set -euo pipefail
cd "$(dirname "$0")/.."
. examples/install_packages.sh

# shellcheck disable=SC2086  # one word a package
install_packages $BUILD_PACKAGES catch2 libtinyobjloader-dev
# Other readers and a browser, by the command they bring (node may come from elsewhere); without them their tests are skipped.
for tool in python3:python3 node:nodejs npm:npm chromium:chromium; do
  command -v "${tool%%:*}" >/dev/null || install_packages "${tool##*:}" ||
    echo "without ${tool%%:*} some tests will be skipped" >&2
done
/usr/bin/python3 -c 'import numpy' 2>/dev/null || install_packages python3-numpy ||
  echo "without NumPy the test of all formats will be skipped" >&2
mkdir -p build
configure build -DCMAKE_BUILD_TYPE=Release -DTRIMTACK_BUILD_CLI=ON -DTRIMTACK_DEVELOPER=ON -DTRIMTACK_UNITY=ON
cmake --build build --parallel "$(nproc)"

# Readers by others for the scene tests, and what the web host draws with; without a network their tests are skipped.
for folder in tests/web examples/host_web; do
  if command -v npm >/dev/null && [ ! -d $folder/node_modules ]; then
    (cd $folder && npm ci --no-audit --no-fund --loglevel=error </dev/null) ||
      echo "npm could not fetch $folder/package-lock.json: the tests that need it will be skipped" >&2
  fi
done

ctest --test-dir build --output-on-failure --no-tests=error --timeout 600 --parallel "$(nproc)" "$@" </dev/null
