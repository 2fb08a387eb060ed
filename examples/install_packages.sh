# SPDX-License-Identifier: MIT
# Sourced by examples/run.sh and tests/run.sh: install_packages NAME... installs the Debian packages that are missing,
# when it may (root, or sudo without a password), else says what to install and stops.

missing_packages() {
  local name
  for name in "$@"; do
    dpkg-query -W -f='${Status}\n' "$name" 2>/dev/null | grep -q '^install ok installed$' || echo "$name"
  done
}

install_packages() {
  if ! command -v dpkg-query >/dev/null; then
    echo "This is no Debian system: make sure that these packages, or what they hold, are installed: $*"
    return 0
  fi
  local missing as_root=()
  missing=$(missing_packages "$@")
  [ -n "$missing" ] || return 0
  if [ "$(id -u)" -ne 0 ]; then
    if command -v sudo >/dev/null && sudo -n true 2>/dev/null; then
      as_root=(sudo -n)
    else
      echo "Please install first: sudo apt-get install -y" $missing >&2
      return 1
    fi
  fi
  echo "installing:" $missing
  "${as_root[@]}" apt-get update -qq </dev/null || return 1
  # shellcheck disable=SC2086  # one word a package
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing \
    </dev/null >/dev/null || { echo "apt-get could not install:" $missing >&2; return 1; }
}

# configure FOLDER OPTION...: keeps the generator of an existing build folder, prefers Ninja for a new one.
configure() {
  local folder=$1 generator=()
  shift
  [ -f "$folder/CMakeCache.txt" ] || { command -v ninja >/dev/null && generator=(-G Ninja); }
  cmake -S . -B "$folder" "${generator[@]}" "$@" >"$folder.log" 2>&1 || { cat "$folder.log" >&2; return 1; }
  rm -f "$folder.log"
}

BUILD_PACKAGES="g++ cmake ninja-build libeigen3-dev libnanoflann-dev nlohmann-json3-dev libcli11-dev libtbb-dev libcairo2-dev"
