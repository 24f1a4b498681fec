#!/bin/sh
# Benchmarks, each beside a limit that is measured in the same run.
# Prints lines: name value unit limit ratio. Takes about three minutes; not a test.
set -eu
cd "$(dirname "$0")/.."
log=$(mktemp)
trap 'rm -f "$log"' EXIT

run() { # package benchmark rounds
	echo "# $2" >&2
	go test -run '^$' -bench "$2" -benchtime "$3" "$1" >>"$log" 2>&1 || { cat "$log" >&2; exit 1; }
}
run ./store 'Fsync' 3x
run ./store 'Intake' 1s
run ./ingest/mqtt 'Durable' 5x
run ./ingest/broker 'Durable' 5x
run ./process 'Step' 2s
run ./cmd/flitch/internal/app 'Memory' 1x

awk '
	$1 == "bench" && $2 == "fsync_4k_p50" { fsync = $3 }
	$1 == "bench" && $2 ~ /latency/ && fsync { $5 = fsync; $6 = sprintf("%.1f", $3 / fsync) }
	$1 == "bench" { print $2, $3, $4, $5, $6 }
	$1 ~ /^BenchmarkIntake/ {
		split($1, part, "/"); sub(/-.*/, "", part[3])
		for (i = 2; i < NF; i++) if ($(i + 1) == "rows/s") rows[part[2], part[3]] = $i
	}
	$1 ~ /^BenchmarkStep/ {
		for (i = 2; i < NF; i++) if ($(i + 1) == "readings/s") print "step_all_clocks", $i, "readings/s", 500000, sprintf("%.2f", $i / 500000)
	}
	END {
		for (group = 1; group <= 10000; group *= 10) if (rows["ours", group])
			print "store_rows_group_" group, rows["ours", group], "rows/s", rows["raw", group], sprintf("%.2f", rows["ours", group] / rows["raw", group])
	}
' "$log"
