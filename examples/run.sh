#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# Builds trimtack and runs the whole job on the demo coat.
#   bash examples/run.sh [FOLDER]     results go to FOLDER (default: build/demo)
set -euo pipefail
folder=${1:-}
[ -z "$folder" ] || folder=$(realpath -m "$folder")
cd "$(dirname "$0")/.."
folder=${folder:-build/demo}
. examples/install_packages.sh

# shellcheck disable=SC2086  # one word a package
install_packages $BUILD_PACKAGES
mkdir -p build
echo "building trimtack into build/ (a few minutes the first time)"
configure build -DCMAKE_BUILD_TYPE=Release -DTRIMTACK_BUILD_CLI=ON -DTRIMTACK_DEVELOPER=OFF -DTRIMTACK_UNITY=ON
cmake --build build --parallel "$(nproc)" --target trimtack

mkdir -p "$(dirname "$folder")"
build/src/trimtack demo "$folder"
echo
echo "The results are in $folder. Your own file next:"
echo "  build/src/trimtack inspect COMBINED.obj"
echo "  build/src/trimtack bind COMBINED.obj -o FOLDER"
