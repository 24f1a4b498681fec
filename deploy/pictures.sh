#!/bin/sh
# Writes the pictures of the README into deploy/pictures, from the demo in Chromium at the
# width of a phone: sh deploy/pictures.sh. Which views: views in
# cmd/flitch/internal/sweep/pictures_test.go.
set -eu
cd "$(dirname "$0")/.."
mkdir -p deploy/pictures
FLITCH_PICTURES="$PWD/deploy/pictures" go test -count=1 -run '^TestPictures$' ./cmd/flitch/internal/sweep
ls -l deploy/pictures
