#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# Every fuzz target for some seconds (default 30), from its seeds.
#   bash .ci/fuzz_smoke.sh [SECONDS]
set -euo pipefail
cd "$(dirname "$0")/.."
. examples/install_packages.sh
# shellcheck disable=SC2086
install_packages $BUILD_PACKAGES catch2 clang
mkdir -p build_fuzz
configure build_fuzz -DCMAKE_BUILD_TYPE=RelWithDebInfo -DCMAKE_CXX_COMPILER=clang++ -DCMAKE_C_COMPILER=clang \
  -DTRIMTACK_FUZZ=ON -DTRIMTACK_SANITIZE=address,undefined
cmake --build build_fuzz --parallel "$(nproc)" --target trimtack_fuzzers
mapfile -t programs < <(find build_fuzz/tests/fuzz -maxdepth 1 -name 'fuzz_*' -type f -perm -u+x | sort)
[ "${#programs[@]}" -ge 3 ] || { echo "only ${#programs[@]} fuzz programs were built"; exit 1; }
for program in "${programs[@]}"; do
  name=$(basename "$program")
  work=$(mktemp -d)
  echo "--- $name"
  "$program" -max_total_time="${1:-30}" -timeout=20 -rss_limit_mb=3000 -print_final_stats=1 -artifact_prefix="$work/" \
    "$work" "tests/fuzz/seeds/${name#fuzz_}" >"$work.log" 2>&1 || { tail -40 "$work.log"; ls "$work"; exit 1; }
  grep -E 'stat::number_of_executed_units|stat::average_exec_per_sec' "$work.log"
  rm -rf "$work" "$work.log"
done
