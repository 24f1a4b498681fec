#!/bin/sh
# The list of what a build of flitch is made of: sh deploy/sbom.sh OUT.json [BINARY]
#
# Writes an SBOM in CycloneDX JSON from what the binary itself says (without one it is built
# here, for this machine), and holds it against the binary: each module, in its version, and
# nothing else. Licences are those that are found in the modules. The C code of SQLite is in
# github.com/mattn/go-sqlite3 and is listed as that.
set -eu
[ $# -ge 1 ] || { echo "say: sh deploy/sbom.sh OUT.json [BINARY]" >&2; exit 2; }
case $1 in /*) out=$1 ;; *) out=$PWD/$1 ;; esac
binary=${2:-}
[ -z "$binary" ] || case $binary in /*) ;; *) binary=$PWD/$binary ;; esac
cd "$(dirname "$0")/.."
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
if [ -z "$binary" ]; then
	binary=$scratch/flitch
	go build -trimpath -o "$binary" ./cmd/flitch
fi
(cd deploy/tools && go build -o "$scratch/" github.com/CycloneDX/cyclonedx-gomod/cmd/cyclonedx-gomod ./parts)
version=$(go version -m "$binary" | awk '$1 == "mod" { print $3 }')
[ -n "$version" ] || version="(devel)"
# No time and no chance in it: the same program has the same list. The own module has no
# address to be fetched from, which the tool warns of.
"$scratch/cyclonedx-gomod" bin -json -std -licenses -noserial -notimestamp -version "$version" -output "$scratch/sbom.json" "$binary" 2>"$scratch/said" ||
	{ cat "$scratch/said" >&2; exit 1; }
"$scratch/parts" "$binary" "$scratch/sbom.json"
mv "$scratch/sbom.json" "$out"
