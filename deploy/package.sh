#!/bin/sh
# The Debian packages: sh deploy/package.sh OUT [amd64 arm64 armv7]
# Builds the binaries into OUT (deploy/build.sh) and packs each as OUT/flitch_VERSION_ARCH.deb.
set -eu
[ $# -ge 1 ] || { echo "package.sh: where to? sh deploy/package.sh OUT [amd64 arm64 armv7]" >&2; exit 1; }
case $1 in /*) out=$1 ;; *) out=$PWD/$1 ;; esac
shift
[ $# -gt 0 ] || set -- amd64 arm64 armv7
here=$(cd "$(dirname "$0")" && pwd)
FLITCH_VERSION=${FLITCH_VERSION:-$(sh "$here/version.sh")}
export FLITCH_VERSION
sh "$here/build.sh" "$out" "$@"
for arch in "$@"; do
	(cd "$here/tools" && go run ./pack -binary "$out/$arch/flitch" -arch "$arch" -version "$FLITCH_VERSION" -out "$out")
done
