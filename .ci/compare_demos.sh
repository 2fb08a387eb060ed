#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# Runs the demo with each PROGRAM, with one thread and with two, and compares every file's bytes.
#   bash .ci/compare_demos.sh FOLDER PROGRAM...
set -euo pipefail
work=$1
shift
first=''
number=0
for program in "$@"; do
  for threads in 1 2; do
    number=$((number + 1))
    mkdir "$work/$number"
    here=$PWD
    # From inside, so that no path differs.
    case $program in /*) ;; *) program=$here/$program ;; esac
    (cd "$work/$number" && "$program" demo demo --frames 6 --faults --threads $threads -q)
    (cd "$work/$number" && find . -type f | LC_ALL=C sort | xargs -d '\n' sha256sum) >"$work/$number.sums"
    count=$(wc -l <"$work/$number.sums")
    [ "$count" -ge 20 ] || { echo "$program wrote only $count files"; exit 1; }
    if [ -z "$first" ]; then
      first=$number
      echo "$program, $threads thread: $count files"
    elif cmp -s "$work/$first.sums" "$work/$number.sums"; then
      echo "$program, $threads thread(s): the same $count files"
    else
      echo "$program, $threads thread(s): these files differ:"
      diff "$work/$first.sums" "$work/$number.sums" || true
      exit 1
    fi
  done
done
