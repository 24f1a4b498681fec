#!/bin/sh
# The one test command: sh deploy/test.sh
#
# Installs what the tests need from Debian when it is missing (a broker, its
# command line tools, a browser, a spreadsheet, readers of PDF, PostgreSQL, npm for the accessibility engine, Prometheus, compilers and emulators of
# other machines, tools for bad disks), then checks format, vet and staticcheck, runs
# every test with the race detector, fuzzes each parser for a moment, and runs the
# demo from the source as the README says. Stops at the first failure.
set -eu
cd "$(dirname "$0")/.."
PATH=$PATH:/usr/sbin # Debian keeps mosquitto there
export PATH

began=$(date +%s)
step_began=$began
step_name=""
done_step() {
	[ -z "$step_name" ] || printf -- '-- %s took %s s\n' "$step_name" "$(($(date +%s) - step_began))"
}
step() {
	done_step
	step_name=$1
	step_began=$(date +%s)
	printf '\n== %s\n' "$1"
}
fail() { printf 'FAILED: %s\n' "$1" >&2; exit 1; }

scratch=$(mktemp -d)
trap 'code=$?; rm -rf "$scratch"; [ "$code" = 0 ] || printf "FAILED in step: %s\n" "$step_name" >&2' EXIT

step "tools"
command -v go >/dev/null || fail "Go is missing: install the version that go.mod names, or newer"
command -v "$(go env CC | cut -d " " -f 1)" >/dev/null || fail "a C compiler is missing: apt-get install gcc libc6-dev"
missing=""
need() { # command package
	command -v "$1" >/dev/null || missing="$missing $2"
}
need ip iproute2
need mosquitto mosquitto
need mosquitto_pub mosquitto-clients
need chromium chromium
need node nodejs
need npm npm
need soffice libreoffice-calc-nogui
need pdftotext poppler-utils
need qemu-aarch64 qemu-user
need systemd-analyze systemd
need strace strace
need mkfs.ext4 e2fsprogs
need mkfs.xfs xfsprogs
need update-ca-certificates ca-certificates
command -v initdb >/dev/null || ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || missing="$missing postgresql" # Debian keeps its programs there
alone="" # what apt refuses together: what one compiler recommends is at odds with another's
need_alone() { # command packages
	command -v "$1" >/dev/null || alone="$alone $2"
}
need_alone prometheus prometheus # what it recommends watches this machine
need_alone aarch64-linux-gnu-gcc "gcc-aarch64-linux-gnu libc6-dev-arm64-cross"
need_alone arm-linux-gnueabihf-gcc "gcc-arm-linux-gnueabihf libc6-dev-armhf-cross"
if [ -n "$missing$alone" ]; then
	[ "$(id -u)" = 0 ] || fail "missing; as root: apt-get install$missing, and with --no-install-recommends, one after the other:$alone"
	echo "installing$missing$alone"
	export DEBIAN_FRONTEND=noninteractive
	apt-get update -qq
	# shellcheck disable=SC2086 # a list of package names
	apt-get install -y -qq $missing >"$scratch/apt" 2>&1 || { cat "$scratch/apt"; fail "apt-get install$missing"; }
	for package in $alone; do
		apt-get install -y -qq --no-install-recommends "$package" >"$scratch/apt" 2>&1 || { cat "$scratch/apt"; fail "apt-get install $package"; }
	done
fi
echo "$(go version), mosquitto, mosquitto_pub, chromium, soffice, pdftotext and npm are here"

step "the accessibility engine" # by the version and the sum in its lock file; never committed
npm ci --ignore-scripts --no-audit --no-fund --prefix deploy/axe

step "format"
unformatted=$(gofmt -l .)
[ -z "$unformatted" ] || fail "run gofmt -w on: $unformatted"
unmerged=$(grep -rIlE --exclude-dir=.git --exclude-dir=node_modules '^(<<<<<<<|>>>>>>>) ' . || :)
[ -z "$unmerged" ] || fail "marks of a merge are left in: $unmerged"
echo "every file is formatted"

step "vet" # ./... leaves testdata out
go vet ./... ./testdata/published

step "staticcheck"
go tool -modfile=deploy/tools/go.mod staticcheck ./... ./testdata/published

step "tests with the race detector"
largest=$(go list -m)/cmd/flitch/internal/app # begins first: it would be the last to end
# Three packages on two cores: some wait more than they compute. A program with the race
# detector in it would wait a second before it ends. Vet was above.
# shellcheck disable=SC2046 # a list of packages
GORACE="atexit_sleep_ms=0" go test -race -vet=off -p "$(($(nproc) + 1))" -timeout 60m "$largest" $(go list ./... | grep -vx "$largest")

step "what watches flitch, by its engine's own libraries"
(cd deploy/tools && go vet ./... && go test -vet=off $(go list ./... | grep -v /ship$))

step "what is handed out: three machines, the container, the package" # built, installed and run; the compilers' cache makes a second run cheap
(cd deploy/tools && go test -vet=off -count=1 -timeout 20m ./ship)

step "known weaknesses of what is used" # of a list that comes as a module: nothing is asked elsewhere
(cd deploy/tools && go build -o "$scratch/" golang.org/x/vulndb/cmd/indexdb golang.org/x/vuln/cmd/govulncheck ./vulnerable)
"$scratch/indexdb" -vulns "$(cd deploy/tools && go list -m -f '{{.Dir}}' golang.org/x/vulndb)/data/osv" -out "$scratch/known"
"$scratch/govulncheck" -db "file://$scratch/known" -format json ./... >"$scratch/found"
"$scratch/vulnerable" <"$scratch/found" || fail "a module that is used has a known weakness: go get a newer one"

step "what the program is made of" # an SBOM, held against the binary; fails at none
sh deploy/sbom.sh "$scratch/sbom.json"

step "fuzz, a moment each"
fuzzed=0
corpus=$(go env GOCACHE)/fuzz # where go test -fuzz keeps what it found
go list -f '{{.ImportPath}} {{.Dir}}' ./... >"$scratch/folders"
while read -r package folder; do
	targets=$(cat "$folder"/*_test.go 2>/dev/null | sed -n 's/^func \(Fuzz[A-Za-z0-9_]*\)(.*/\1/p')
	[ -n "$targets" ] || continue
	go test -vet=off -c -fuzz . -o "$scratch/fuzzer" "$package" # once for all its targets
	for target in $targets; do
		echo "$package $target"
		# A number of inputs, not seconds: with seconds, go 1.26 may end a clean run
		# with "context deadline exceeded" (go.dev/issue/75804). timeout ends a hang.
		(cd "$folder" && timeout 600 "$scratch/fuzzer" -test.run '^$' -test.fuzz "^$target\$" -test.fuzztime 20000x -test.fuzzminimizetime 1x \
			-test.fuzzcachedir "$corpus/$package") >"$scratch/fuzz" 2>&1 </dev/null && grep -q 'now fuzzing' "$scratch/fuzz" ||
			{ cat "$scratch/fuzz"; fail "$package $target"; }
		fuzzed=$((fuzzed + 1))
	done
done <"$scratch/folders"
[ "$fuzzed" -gt 0 ] || fail "no fuzz target found"
echo "$fuzzed parsers fuzzed"

step "the demo, from the source"
go run ./cmd/flitch demo --once --out "$scratch/demo" >"$scratch/said" || { cat "$scratch/said"; fail "the demo ended with an error"; }
tail -n 12 "$scratch/said"
for file in record.csv record.json record.html record.pdf record.xlsx; do
	[ -s "$scratch/demo/$file" ] || fail "the demo wrote no $file"
done

done_step
printf '\n== all passed, in %s s\n' "$(($(date +%s) - began))"
