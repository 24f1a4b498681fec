#!/bin/sh
# Before it is removed: it ends. For an upgrade it runs on until the new one is there.
set -e
[ "$1" = remove ] || exit 0
if [ -d /run/systemd/system ]; then
	systemctl disable --now flitch.service || true
fi
