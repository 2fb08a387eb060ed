#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# The same bytes from every build: the demo's whole output by g++ Release, g++ Debug and clang++ Release, with one thread
# and with two.
set -euo pipefail
cd "$(dirname "$0")/.."
. examples/install_packages.sh
# shellcheck disable=SC2086
install_packages $BUILD_PACKAGES clang
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
build() {  # NAME OPTION...
  local folder=build_same_$1
  mkdir -p "$folder"
  configure "$folder" -DTRIMTACK_DEVELOPER=OFF -DTRIMTACK_UNITY=ON "${@:2}"
  cmake --build "$folder" --parallel "$(nproc)" --target trimtack
}
build gnu_release -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_COMPILER=g++ -DCMAKE_C_COMPILER=gcc
build gnu_debug -DCMAKE_BUILD_TYPE=Debug -DCMAKE_CXX_COMPILER=g++ -DCMAKE_C_COMPILER=gcc
build clang_release -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_COMPILER=clang++ -DCMAKE_C_COMPILER=clang
bash .ci/compare_demos.sh "$work" build_same_*/src/trimtack
