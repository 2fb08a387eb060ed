#!/bin/bash
# SPDX-License-Identifier: MIT
# Builds every benchmark and runs it; each prints its table of times and ratios and says which bars are met.
#     bash tests/bench/run.sh [BUILD_FOLDER]
# Peers come from Debian packages, installed when that is possible; a benchmark whose peer is missing is left out, and the
# configuration says so. Run it on a machine that does nothing else. Exit code 1: a bar is not met.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
build=${1:-$root/build_bench}
. "$root/examples/install_packages.sh"
# shellcheck disable=SC2086  # one word a package
install_packages $BUILD_PACKAGES catch2
install_packages libtinyobjloader-dev libembree-dev libcgal-dev || echo "benchmarks without their peers are left out" >&2
mkdir -p "$build"
cmake -S "$root" -B "$build" -DCMAKE_BUILD_TYPE=Release >"$build/configure.log" 2>&1 || { cat "$build/configure.log"; exit 2; }
grep -i 'not found' "$build/configure.log" || true
cmake --build "$build" --target trimtack_benches --parallel "$(nproc)"
printf '\nmachine: %s, %s processors, %s\n' "$(sed -n 's/^model name\s*: //p' /proc/cpuinfo | head -1)" "$(nproc)" \
  "$(sed -n 's/^MemTotal:\s*//p' /proc/meminfo)"
printf 'compiler: %s\n' "$("$(sed -n 's/^CMAKE_CXX_COMPILER:[A-Z]*=//p' "$build/CMakeCache.txt")" --version | head -1)"
table=$build/bars.txt
: >"$table"
met=0
ran=0
for bench in "$build"/tests/bench/bench_*; do
  [ -f "$bench" ] && [ -x "$bench" ] || continue
  printf '\n=== %s ===\n' "$(basename "$bench")"
  ran=$((ran + 1))
  "$bench" >"$build/bench.log" || met=1
  cat "$build/bench.log"
  grep -E '  (met|NOT MET)$' "$build/bench.log" >>"$table" || true
done
[ "$ran" -gt 0 ] || { echo "no benchmark was built"; exit 2; }
printf '\n=== all bars ===\n'
cat "$table"
exit "$met"
