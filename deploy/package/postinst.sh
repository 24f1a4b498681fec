#!/bin/sh
# After unpacking: the user, the folders, and an empty database the first time. Run again,
# it changes nothing that is there.
set -e
[ "$1" = configure ] || exit 0
first=no
[ -n "$2" ] || first=yes

getent passwd flitch >/dev/null ||
	useradd --system --user-group --home-dir /var/lib/flitch --no-create-home --shell /usr/sbin/nologin flitch
[ -d /var/lib/flitch ] || install -d -o flitch -g flitch -m 0700 /var/lib/flitch
# The page adds probes beside the configuration and cannot change what root wrote there.
chown root:flitch /etc/flitch
chmod 1770 /etc/flitch
[ ! -e /etc/flitch/flitch.toml ] || chgrp flitch /etc/flitch/flitch.toml

# Only the first time: later, a missing database is a disk that is not mounted, and an
# empty one must not take its place.
database=/var/lib/flitch/flitch.db
if [ $first = yes ] && [ ! -e $database ]; then
	runuser -u flitch -- /usr/bin/flitch init --database $database ||
		echo "flitch: no database was made; as root: runuser -u flitch -- flitch init --database $database"
fi

if [ -d /run/systemd/system ]; then
	systemctl daemon-reload || true
	[ $first = yes ] || systemctl try-restart flitch.service || true
fi
if [ $first = yes ]; then
	echo "flitch: name your fridge and your sensors in /etc/flitch/flitch.toml, then as root"
	echo "flitch:   flitch check --config /etc/flitch/flitch.toml && systemctl enable --now flitch"
fi
