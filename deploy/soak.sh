#!/bin/sh
# Long tests, faults and load: sh deploy/soak.sh NAME ... | all | list
#
# The same test code that runs short with go test, with a larger number from its
# environment. Prints lines: name value unit limit ratio. A limit is an upper one, or with
# >= in front a lower one; "-" is none. Each suite has a line NAME_injected: how many faults
# or readings it put in. Ends with an error when a test fails, a line is missing, a limit
# is broken or nothing was injected. What stands in the environment already wins over the
# table: FLITCH_SOAK=5m sh deploy/soak.sh hour. Big files go into TMPDIR (a year needs 8 GB), or
# into FLITCH_SOAK_FOLDER and stay there: a year or a month is then filled once.
set -eu
cd "$(dirname "$0")/.."
PATH=$PATH:/usr/sbin # Debian keeps mosquitto there
export PATH

# One suite a line: NAME | its environment | go test's flags (without a |) | package | lines it has to print.
# A test prints a line by fmt.Println or t.Log: "soak NAME VALUE UNIT LIMIT RATIO". One that prints
# none is counted by what it logs: "12 kills", "30 faults", "8 cuts of power".
table() {
	cat <<'END'
hour | FLITCH_SOAK=1h | -run TestTheRealBinaryStaysFlat$ | ./cmd/flitch/internal/soak | hour_injected hour_rss hour_own hour_c_heaps hour_heap hour_handles hour_goroutines hour_threads hour_lag hour_database hour_wal
simulated | FLITCH_SOAK_HOURS=72 | -run TestSimulatedDaysStayFlat$ | ./cmd/flitch/internal/soak | simulated_injected simulated_rss simulated_own simulated_heap simulated_handles simulated_goroutines simulated_threads simulated_lag simulated_database simulated_wal
power | FLITCH_CUTS=100 | -timeout 40m -run Cut | ./cmd/flitch/internal/baddisk | power_injected power_not_verified power_missing power_damaged power_untold power_NORMAL_missing power_OFF_missing
year | FLITCH_YEAR_ROWS=75700000 | -run TestAYearInTheDatabase$ | ./cmd/flitch/internal/soak | year_injected year_bytes_per_reading year_start year_glance_p50 year_glance_p99 year_chart_seven_days_p50 year_chart_seven_days_p99 year_rss
clients | FLITCH_SOAK_CLIENTS=60 | -run TestTwoHundredClients$ | ./cmd/flitch/internal/soak | clients_injected clients_rate clients_ack_p99 clients_lag_worst clients_rss
month | FLITCH_MONTH_MINUTES=43200 FLITCH_MONTH_DAY=1440 | -run TestAMonthOfTwoHundredProbes$ | ./cmd/flitch/internal/soak | month_injected month_bytes_per_reading month_start month_glance_p99 month_rss
kills | FLITCH_KILLS=1000 | -run TestKilledAtRandom | ./cmd/flitch/internal/app | kills_injected kills_embedded_again_worst kills_mosquitto_again_worst
points | FLITCH_KILL_STRIDE=1 | -run TestKilledAtEveryPoint$ | ./cmd/flitch/internal/app | points_injected points_faulty points_again_worst
pointsbehind | FLITCH_KILL_STRIDE=1 | -run TestKilledAtEveryPointBehindMosquitto$ | ./cmd/flitch/internal/app | pointsbehind_injected pointsbehind_faulty pointsbehind_again_worst
files | FLITCH_KILL_STRIDE=1 | -run TestFilesAreWholeWhereverACommandIsKilled$ | ./cmd/flitch | files_injected
nights | FLITCH_CLOCK_NIGHTS=all | -race -run InTheNights$ | ./cmd/flitch/internal/app | nights_injected
link | FLITCH_LINK_READINGS=2000 FLITCH_LINK_HOURS=24 | -run BadLink$ | ./cmd/flitch | link_injected link_lost link_readings
broker | FLITCH_BROKER_KILLS=40 | -run ABrokerThatIsKilled$ | ./cmd/flitch | broker_injected broker_readings broker_lost_itself
packing | FLITCH_TEST_PACK_KILLS=200 | -run Packing | ./store |
fleet | FLITCH_FLEET_FAULTS=300 | -run LosesAndDoublesNothing$ | ./store/fleet | fleet_injected fleet_server_kills fleet_daemon_kills
END
}

fail() { printf 'FAILED: %s\n' "$1" >&2; exit 1; }
names() { table | cut -d '|' -f 1 | tr -d ' '; }

[ $# -gt 0 ] || fail "say which: sh deploy/soak.sh $(names | tr '\n' ' ')or all"
case $1 in
list) names; exit 0 ;;
all) # shellcheck disable=SC2046 # names are words
	set -- $(names) ;;
esac

# row prints the line of a suite. Its name is a name, and no pattern.
row() { table | awk -F '|' -v name="$1" '{ suite = $1; gsub(/ /, "", suite) } suite == name'; }

for suite in "$@"; do # before the first runs for an hour
	[ -n "$(row "$suite")" ] || fail "there is no suite $suite; there are: $(names | tr '\n' ' ')"
done

log=$(mktemp)
trap 'rm -f "$log"' EXIT

# settings prints the NAME=VALUE of a row that the environment does not have already.
settings() {
	for setting in $1; do
		eval "have=\${${setting%%=*}:-}"
		[ -n "$have" ] || echo "$setting"
	done
}

# judge reads the output of a suite and prints its lines.
judge() { # suite wanted
	awk -v suite="$1" -v wanted="$2" '
		sub(/^ *[A-Za-z0-9_]+\.go:[0-9]+: /, "") && match($0, /[0-9]+ (kills|faults|cuts of power)/) { # as t.Log prints it
			logged += substr($0, RSTART)
		}
		$1 == "soak" && NF >= 6 {
			print $2, $3, $4, $5, $6
			seen[$2] = 1
			if ($2 == suite "_injected") injected = $3
			limit = $5
			if (limit == "-") next
			least = sub(/^>=/, "", limit)
			if ((least && $3 + 0 < limit + 0) || (!least && $3 + 0 > limit + 0)) { print "limit broken: " $2 " is " $3 " " $4 ", limit " $5 > "/dev/stderr"; bad = 1 }
		}
		END {
			names = split(wanted, want, " ")
			for (i = 1; i <= names; i++) if (!seen[want[i]]) { print "missing: " want[i] > "/dev/stderr"; bad = 1 }
			if (injected == "" && logged > 0) print suite "_injected", injected = logged, "faults - -"
			if (injected + 0 <= 0) { print "nothing was injected: " suite "_injected" > "/dev/stderr"; bad = 1 }
			exit bad
		}' "$log"
}

bad=""
for suite in "$@"; do
	line=$(row "$suite")
	column() { printf '%s' "$line" | cut -d '|' -f "$1" | sed 's/^ *//; s/ *$//'; }
	printf '# %s: %s go test %s %s\n' "$suite" "$(settings "$(column 2)" | tr '\n' ' ')" "$(column 3)" "$(column 4)" >&2
	# shellcheck disable=SC2046,SC2086 # lists of words
	if ! env $(settings "$(column 2)") go test -count=1 -timeout 0 -v $(column 3) $(column 4) >"$log" 2>&1; then
		grep -v '^soak ' "$log" >&2
		bad="$bad $suite"
	fi
	judge "$suite" "$(column 5)" || bad="$bad $suite"
done
[ -z "$bad" ] || fail "suites:$(printf '%s\n' $bad | sort -u | tr '\n' ' ' | sed 's/^/ /')"
