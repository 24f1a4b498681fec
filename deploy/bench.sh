#!/bin/sh
# Benchmarks. Prints lines: name value unit limit ratio. The limit is the raw
# library, or one fsync, measured in the same run on the same machine; for memory,
# decode, Step, the models, assess, alarms, charts and records it is a number of ours. The ratio is value to limit.
# Ends with an error when a line is missing. Takes about four minutes; not a test.
set -eu
[ $# -eq 0 ] || { echo "FAILED: bench.sh takes no arguments and runs all of them; type: sh deploy/bench.sh" >&2; exit 2; }
cd "$(dirname "$0")/.."
PATH=$PATH:/usr/sbin # Debian keeps mosquitto there
export PATH
log=$(mktemp)
trap 'rm -f "$log"' EXIT

run() { # package benchmark rounds
	echo "# $2" >&2
	go test -run '^$' -bench "$2" -benchtime "$3" "$1" >>"$log" 2>&1 || { cat "$log" >&2; exit 1; }
}
run ./store 'Fsync' 3x
run ./store 'Intake' 1s
run ./store 'Pack$' 1x
run ./ingest 'Nested' 30x
run ./ingest/mqtt 'Durable' 5x
run ./ingest/broker 'Durable' 5x
run ./process 'Step' 2s
run ./process/cure 'Finish' 1s
run ./process/heat 'CookEnsemble' 2x
run ./cmd/flitch/internal/assess 'Assess' 3x
run ./cmd/flitch 'Import' 3x
run ./store/fleet 'CatchUp' 1x
run ./process/engine 'StandingAlarms' 2s
run ./cmd/flitch/internal/app 'ReadingToMessage' 1x
run ./cmd/flitch/internal/app 'SevenDays' 1x
run ./cmd/flitch/internal/app 'GlanceUnderLoad' 1x
run ./cmd/flitch/internal/app 'Record' 1x
run ./cmd/flitch/internal/app 'Memory' 1x
run ./cmd/flitch/internal/app 'Proof' 1x

awk '
	function line(name, value, unit, limit, ratio) {
		print name, value, unit, limit, ratio
		seen[name] = 1
	}
	$1 == "bench" && $2 == "fsync_4k_p50" { fsync = $3 }
	$1 == "bench" && $2 ~ /latency/ && fsync { $5 = fsync; $6 = sprintf("%.1f", $3 / fsync) }
	$1 == "bench" { line($2, $3, $4, $5, $6) }
	$1 ~ /^BenchmarkIntake/ {
		split($1, part, "/"); sub(/-.*/, "", part[3])
		for (i = 2; i < NF; i++) if ($(i + 1) == "rows/s") rows[part[2], part[3]] = $i
	}
	$1 ~ /^BenchmarkStep/ {
		for (i = 2; i < NF; i++) if ($(i + 1) == "readings/s") line("step_all_clocks", $i, "readings/s", 500000, sprintf("%.2f", $i / 500000))
	}
	END {
		groups = split("1 12 100 1000 10000", group, " ")
		for (i = 1; i <= groups; i++) {
			ours = rows["ours", group[i]]; raw = rows["raw", group[i]]
			if (ours && raw) line("store_rows_group_" group[i], ours, "rows/s", raw, sprintf("%.2f", ours / raw))
		}
		# A benchmark that was renamed or prints nothing must not go unseen.
		wanted = "fsync_4k_p50 decode_nested decode_nested_json durable_external latency_external_p50 latency_external_p99 durable_embedded" \
			" latency_embedded_p50 latency_embedded_p99 store_rows_group_1 store_rows_group_12 store_rows_group_100" \
			" store_rows_group_1000 store_rows_group_10000 pack_rows pack_step_worst bytes_a_reading_rows bytes_a_reading_blocks read_week_blocks step_all_clocks cure_finish_belly cure_finish_ham" \
			" cook_ensemble_mean cook_ensemble_worst assess_nine_days import_csv fleet_catch_up" \
			" standing_alarms glance_under_load_p50 glance_under_load_p99 glance_load chart_seven_days_p50 chart_seven_days_p99 chart_seven_days_first reading_to_message_p50 reading_to_message_p99 reading_to_message_load memory_after_a_day memory_own_after_a_day memory_peak" \
			" record_csv_nine_days record_pdf_nine_days record_csv_beside_library record_xlsx_beside_library record_csv_memory record_pdf_memory record_xlsx_memory seal_rows proof_nine_days verify_nine_days verify_database"
		names = split(wanted, want, " ")
		for (i = 1; i <= names; i++) if (!seen[want[i]]) { print "missing: " want[i] > "/dev/stderr"; bad = 1 }
		exit bad
	}
' "$log"
