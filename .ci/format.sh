#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# clang-format and cppcheck on all sources, clang-tidy on those that differ from the base (or on all with --all).
#   bash .ci/format.sh [--all]
set -uo pipefail
cd "$(dirname "$0")/.."
. examples/install_packages.sh
# shellcheck disable=SC2086
install_packages $BUILD_PACKAGES catch2 clang clang-format clang-tidy cppcheck git || exit 1
fault=0

mapfile -t sources < <(find include src tests examples -path '*/node_modules' -prune -o -path '*/fixtures' -prune -o \
  \( -name '*.cpp' -o -name '*.hpp' -o -name '*.h' -o -name '*.c' \) -print | sort)
echo "clang-format on ${#sources[@]} files"
[ "${#sources[@]}" -ge 100 ] || { echo "too few files: nothing was checked"; exit 1; }
clang-format --dry-run --Werror "${sources[@]}" || fault=1
for file in "${sources[@]}"; do
  head -1 "$file" | grep -q 'SPDX-License-Identifier: MIT' || { echo "$file: no SPDX line on top"; fault=1; }
  if LC_ALL=C grep -nP '[^\x00-\x7F]' "$file"; then echo "$file: not ASCII"; fault=1; fi
done

mkdir -p build_tidy
configure build_tidy -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_COMPILER=clang++ -DCMAKE_C_COMPILER=clang || exit 1
cppcheck --quiet --std=c++20 --language=c++ --enable=warning,performance,portability --inline-suppr --error-exitcode=1 \
  --suppress=missingIncludeSystem --suppress=useStlAlgorithm -I include -I src -j "$(nproc)" src || fault=1

# clang-tidy takes half a minute a file: in a change only what it touches.
if [ "${1:-}" = --all ]; then
  mapfile -t tidy < <(find src -name '*.cpp' | sort)
else
  base=$(git merge-base HEAD origin/HEAD 2>/dev/null || echo '')
  # What is landed already is looked at by its last change.
  [ "$base" != "$(git rev-parse HEAD)" ] && [ -n "$base" ] || base=$(git rev-parse HEAD~1 2>/dev/null || echo '')
  mapfile -t tidy < <(git diff --name-only --diff-filter=d ${base:+"$base"} -- 'src/*.cpp' 2>/dev/null | head -60)
fi
echo "clang-tidy on ${#tidy[@]} files"
if [ "${#tidy[@]}" -gt 0 ]; then
  printf '%s\n' "${tidy[@]}" | xargs -P "$(nproc)" -n 2 clang-tidy -p build_tidy --quiet || fault=1
fi
exit $fault
