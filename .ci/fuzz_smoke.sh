#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# Every fuzz target for some seconds (default 30), from its seeds and what once failed; as many at a time as there are
# processors. With 1800 it is the long run.
#   bash .ci/fuzz_smoke.sh [SECONDS]
set -euo pipefail
cd "$(dirname "$0")/.."
. examples/install_packages.sh
# shellcheck disable=SC2086
install_packages $BUILD_PACKAGES catch2 clang libtinyobjloader-dev
folder=build_address_undefined  # the same as sanitize.sh address,undefined: one build serves both
mkdir -p "$folder"
configure "$folder" -DCMAKE_BUILD_TYPE=RelWithDebInfo -DCMAKE_CXX_COMPILER=clang++ -DCMAKE_C_COMPILER=clang \
  -DCMAKE_CXX_FLAGS_RELWITHDEBINFO='-O1 -g1' -DTRIMTACK_SANITIZE=address,undefined -DTRIMTACK_FUZZ=ON -DTRIMTACK_UNITY=ON
cmake --build "$folder" --parallel "$(nproc)" --target trimtack_fuzzers
mapfile -t programs < <(find "$folder/tests/fuzz" -maxdepth 1 -name 'fuzz_*' -type f -perm -u+x | sort)
[ "${#programs[@]}" -ge 12 ] || { echo "only ${#programs[@]} fuzz programs were built"; exit 1; }

smoke() {  # PROGRAM SECONDS
  local name work inputs=()
  name=$(basename "$1")
  work=$(mktemp -d)
  mkdir "$work/corpus"
  for kind in seeds regressions; do
    [ -d "tests/fuzz/$kind/${name#fuzz_}" ] && inputs+=("tests/fuzz/$kind/${name#fuzz_}")
  done
  # A machine under load must not look like an endless loop: 5 minutes an input are allowed.
  if ! "$1" -max_total_time="$2" -timeout=300 -rss_limit_mb=3000 -print_final_stats=1 -artifact_prefix="$work/" \
    "$work/corpus" "${inputs[@]}" >"$work/log" 2>&1; then
    tail -60 "$work/log"
    echo "$name: FAILED; base64 of the input:"
    find "$work" -maxdepth 1 -type f -not -name log -exec base64 -w 0 {} \;
    return 1
  fi
  echo "$name: $(sed -n 's/^stat::number_of_executed_units: *//p' "$work/log") inputs," \
    "$(grep -o 'cov: [0-9]* ft: [0-9]*' "$work/log" | tail -1)"
  rm -rf "$work"
}
export -f smoke
printf '%s\n' "${programs[@]}" | xargs -P "$(nproc)" -I{} bash -c 'smoke {} '"${1:-30}"
