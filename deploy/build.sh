#!/bin/sh
# The binaries that are handed out: sh deploy/build.sh OUT [amd64 arm64 armv7 native]
#
# Each is OUT/ARCH/flitch: static, so that it runs on any Linux of its kind, whatever
# C library is there, and with the same bytes whenever and wherever the same compilers
# make it. Without names of machines all three; "native" is this machine's own.
# FLITCH_VERSION=1.2.3 says what it is; else the tag, or the commit, does.
#
# The compilers for other machines are Debian's:
#   apt-get install --no-install-recommends gcc-aarch64-linux-gnu libc6-dev-arm64-cross
#   apt-get install --no-install-recommends gcc-arm-linux-gnueabihf libc6-dev-armhf-cross
set -eu
fail() { printf 'build.sh: %s\n' "$1" >&2; exit 1; }
[ $# -ge 1 ] || fail "where to? sh deploy/build.sh OUT [amd64 arm64 armv7 native]"
case $1 in /*) out=$1 ;; *) out=$PWD/$1 ;; esac
shift
cd "$(dirname "$0")/.."
[ $# -gt 0 ] || set -- amd64 arm64 armv7

version=${FLITCH_VERSION:-$(sh deploy/version.sh)}
case $version in
[0-9]*) ;;
*) fail "FLITCH_VERSION=$version: a version begins with a digit, as 1.2.3" ;;
esac
case $version in
*[!0-9A-Za-z.+~]*) fail "FLITCH_VERSION=$version: only letters, digits and . + ~ are in a version" ;;
esac

host=$(go env GOHOSTARCH)
build() { # name, GOARCH, compiler for it, and what its linker is told besides
	compiler=$3
	[ "$2" != "$host" ] || compiler=$(go env CC)
	command -v "${compiler%% *}" >/dev/null || fail "$compiler is missing; the head of this file says what to install for $1"
	# No cgo but SQLite's. Names and users are looked up by Go itself, as a static
	# C library cannot, and SQLite loads no extension.
	CGO_ENABLED=1 GOOS=linux GOARCH=$2 GOARM=7 CC=$compiler go build -buildvcs=false -trimpath \
		-tags netgo,osusergo,sqlite_omit_load_extension \
		-ldflags "-s -w -X main.release=$version -linkmode external -extldflags '-static $4'" \
		-o "$out/$1/flitch" ./cmd/flitch
	printf '%s/%s/flitch %s\n' "$out" "$1" "$version"
}
for name in "$@"; do
	case $name in
	amd64) build amd64 amd64 x86_64-linux-gnu-gcc "" ;;
	arm64) build arm64 arm64 aarch64-linux-gnu-gcc "" ;;
	# By GNU ld 2.40 a static program of more than 16 MB of code crashes before its main: in the address
	# of an IFUNC resolver of the C library the bit for Thumb is lost.
	armv7) build armv7 arm arm-linux-gnueabihf-gcc -fuse-ld=gold ;;
	native) build native "$host" "$(go env CC)" "" ;;
	*) fail "$name: it is made for amd64, arm64, armv7 and native" ;;
	esac
done
