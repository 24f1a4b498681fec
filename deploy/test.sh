#!/bin/sh
# The one test command: sh deploy/test.sh
#
# Installs what the tests need from Debian when it is missing (a broker, its
# command line tools, a browser), then checks format, vet and staticcheck, runs
# every test with the race detector, fuzzes each parser for a moment, and runs the
# demo from the source as the README says. Stops at the first failure.
set -eu
cd "$(dirname "$0")/.."

began=$(date +%s)
step() { printf '\n== %s (after %s s)\n' "$1" "$(($(date +%s) - began))"; }
fail() { printf 'FAILED: %s\n' "$1" >&2; exit 1; }

need() { # command package
	command -v "$1" >/dev/null 2>&1 || missing="$missing $2"
}

step "tools from Debian"
missing=""
need mosquitto mosquitto
need mosquitto_pub mosquitto-clients
need chromium chromium
if [ -n "$missing" ]; then
	[ "$(id -u)" = 0 ] || fail "install$missing first, or run as root: apt-get install$missing"
	export DEBIAN_FRONTEND=noninteractive
	apt-get update -qq
	# shellcheck disable=SC2086 # a list of package names
	apt-get install -y -qq $missing >/dev/null
fi
echo "mosquitto, mosquitto_pub and chromium are here"

step "format"
unformatted=$(gofmt -l $(git ls-files '*.go' 2>/dev/null || find . -name '*.go'))
[ -z "$unformatted" ] || fail "run gofmt -w on: $unformatted"
echo "every file is formatted"

step "vet"
go vet ./... ./testdata/published

step "staticcheck"
go tool -modfile=deploy/tools/go.mod staticcheck ./...

step "tests with the race detector"
go test -race -timeout 30m ./...

step "fuzz, a moment each"
fuzzed=0
for package in $(go list ./...); do
	for target in $(go test -list '^Fuzz' "$package" | grep '^Fuzz' || true); do
		echo "$package $target"
		go test -run '^$' -fuzz "^$target\$" -fuzztime 5s -fuzzminimizetime 1x "$package" >/tmp/flitch-fuzz.$$ 2>&1 ||
			{ cat /tmp/flitch-fuzz.$$; fail "$package $target"; }
		fuzzed=$((fuzzed + 1))
	done
done
rm -f /tmp/flitch-fuzz.$$
[ "$fuzzed" -gt 0 ] || fail "no fuzz target found"
echo "$fuzzed parsers fuzzed"

step "the demo, from the source"
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
start=$(date +%s)
go run ./cmd/flitch demo --once --out "$out" | tail -n 12
for file in record.csv record.json record.html; do
	[ -s "$out/$file" ] || fail "the demo wrote no $file"
done
echo "demo with build: $(($(date +%s) - start)) s"

step "all passed"
