#!/bin/sh
# Install with apt what is missing of the Debian packages named; nothing when all are there.
set -eu
missing=
for package in "$@"; do
    dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing="$missing $package"
done
[ -n "$missing" ] || exit 0
echo "installing:$missing"
as_root=
if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null || { echo "please install as root: apt-get install$missing" >&2; exit 1; }
    as_root=sudo
fi
$as_root apt-get update -qq
# shellcheck disable=SC2086 # a list of names, split on purpose
$as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing
