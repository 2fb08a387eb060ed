#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# The tests under sanitizers, with clang.
#   bash .ci/sanitize.sh address,undefined [CTEST-OPTION...]     for instance: -R 'obj|npy'
#   bash .ci/sanitize.sh thread
# With address,undefined the fuzz targets are built, too (fuzz_smoke.sh uses the same folder) and replay their inputs.
set -euo pipefail
cd "$(dirname "$0")/.."
. examples/install_packages.sh
# shellcheck disable=SC2086
install_packages $BUILD_PACKAGES catch2 clang libtinyobjloader-dev
kinds=${1:?which sanitizers, for instance address,undefined}
shift
folder=build_${kinds//,/_}
fuzz=OFF
[ "$kinds" = address,undefined ] && fuzz=ON
mkdir -p "$folder"
configure "$folder" -DCMAKE_BUILD_TYPE=RelWithDebInfo -DCMAKE_CXX_COMPILER=clang++ -DCMAKE_C_COMPILER=clang \
  -DCMAKE_CXX_FLAGS_RELWITHDEBINFO='-O1 -g1' -DTRIMTACK_SANITIZE="$kinds" -DTRIMTACK_FUZZ=$fuzz -DTRIMTACK_UNITY=ON
cmake --build "$folder" --parallel "$(nproc)"
export UBSAN_OPTIONS=print_stacktrace=1 ASAN_OPTIONS=detect_leaks=1
export LSAN_OPTIONS=suppressions=$PWD/.ci/leaks.txt:print_suppressions=0
export TSAN_OPTIONS=halt_on_error=1:suppressions=$PWD/.ci/races.txt
# Left out is what says nothing about sanitizers: the consumer test links the installed library with another compiler,
# and browsers look at pages.
ctest --test-dir "$folder" --output-on-failure --no-tests=error --timeout 1200 --parallel "$(nproc)" \
  -E 'consumer|runtime_alone|check_report|host_web_page' "$@" </dev/null
