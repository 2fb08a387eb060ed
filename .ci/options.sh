#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# Each build option turned off (or on) once: the library must configure and compile every way.
set -euo pipefail
cd "$(dirname "$0")/.."
. examples/install_packages.sh
# shellcheck disable=SC2086
install_packages $BUILD_PACKAGES
for option in -DTRIMTACK_BUILD_CLI=OFF -DTRIMTACK_STABLE_EXPORTS=ON -DBUILD_SHARED_LIBS=ON; do
  echo "--- $option"
  rm -rf build_options
  mkdir build_options
  configure build_options -DCMAKE_BUILD_TYPE=Debug -DTRIMTACK_DEVELOPER=OFF -DTRIMTACK_UNITY=ON "$option"
  cmake --build build_options --parallel "$(nproc)"
done
rm -rf build_options
