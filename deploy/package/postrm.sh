#!/bin/sh
# After it was removed or purged. Records of batches are never deleted: how long they have
# to be kept is for a person to know. The user stays, because they belong to it.
set -e
if [ -d /run/systemd/system ]; then
	systemctl daemon-reload || true
fi
if [ "$1" = purge ] && [ -e /var/lib/flitch ]; then
	echo "flitch: the records of your batches stay in /var/lib/flitch, and what you added in /etc/flitch"
fi
