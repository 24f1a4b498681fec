#!/bin/sh
# Prints the version of the source: its tag (v1.2.3), or of what lies after one the
# time and the name of the commit, so that a later one is newer for Debian as well.
set -eu
cd "$(dirname "$0")/.."
if tag=$(git describe --tags --exact-match --match 'v[0-9]*' 2>/dev/null); then
	echo "${tag#v}"
elif at=$(TZ=UTC git log -1 --date=format-local:%Y%m%d%H%M%S --format=%cd.%h 2>/dev/null); then
	before=$(git describe --tags --abbrev=0 --match 'v[0-9]*' 2>/dev/null) || before=v0
	echo "${before#v}+$at"
else # not from git: somebody else has to say
	echo "0+unknown"
fi
