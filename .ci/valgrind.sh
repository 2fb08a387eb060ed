#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# The main job under valgrind, on a small garment: bind, follow with baking, check with a report, export.
#   bash .ci/valgrind.sh [PROGRAM]      an unsanitized build (default: build/src/trimtack, built when it is missing)
set -euo pipefail
cd "$(dirname "$0")/.."
. examples/install_packages.sh
# shellcheck disable=SC2086
install_packages $BUILD_PACKAGES valgrind python3
program=${1:-build/src/trimtack}
if [ ! -x "$program" ]; then
  mkdir -p build
  configure build -DCMAKE_BUILD_TYPE=Release -DTRIMTACK_BUILD_CLI=ON
  cmake --build build --parallel "$(nproc)" --target trimtack
fi
program=$(realpath "$program")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python3 tests/support/small_garment.py "$work/coat.obj"
cd "$work"
# The library of fonts keeps its lists until the end.
cat >fonts.supp <<'END'
{
  lists of fonts
  Memcheck:Leak
  ...
  obj:*/libfontconfig.so*
}
END
checked() {
  echo "--- trimtack $1"
  valgrind --quiet --suppressions=fonts.supp --error-exitcode=99 --leak-check=full --show-leak-kinds=definite,indirect --errors-for-leak-kinds=definite,indirect "$program" "$@" -q
}
checked bind coat.obj -o bound --threads 2 --verify
checked bind coat.obj -o pieces --pieces --cut --frame triangle
checked follow bound coat.obj -o followed --bake obj --whole npy --seat
checked check bound coat.obj --report report.html --csv check.csv || [ $? -eq 1 ]
checked export bound -o exported --format glb --format usda --format json --format ttb
checked rebind bound bound/cloth.obj -o rebound
checked verify bound
echo "valgrind: no error"
