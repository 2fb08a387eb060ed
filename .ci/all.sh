#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# All jobs, the long ones too, on a fresh Debian 12 machine, without any input: the tests, then lint, options, sanitizers, fuzzers, the
# same bytes from every compiler, valgrind.
set -uo pipefail
cd "$(dirname "$0")/.."
export CI=true
failed=()
job() {
  local begin=$SECONDS
  echo "=== $*"
  if "$@" </dev/null; then
    echo "=== $*: passed after $((SECONDS - begin)) s"
  else
    echo "=== $*: FAILED after $((SECONDS - begin)) s"
    failed+=("$*")
  fi
}
job bash tests/run.sh
job bash .ci/format.sh
job bash .ci/options.sh
job bash .ci/sanitize.sh address,undefined
job bash .ci/sanitize.sh thread
job bash .ci/fuzz_smoke.sh
job bash .ci/same_bytes.sh
job bash .ci/valgrind.sh
if [ ${#failed[@]} -ne 0 ]; then
  printf 'failed: %s\n' "${failed[@]}"
  exit 1
fi
echo "all jobs passed after $SECONDS s"
