package config

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// A Store says how long readings are kept. Zero is for ever, which is what a file without the
// section says.
type Store struct {
	KeepReadings time.Duration // those of no batch
	KeepBatches  time.Duration // those of a batch, from its close on
}

const day = 24 * time.Hour

// Bounds of keeping. The least for readings, and the most, are proposals. The least for batches, and
// what is doubted, is 9 CFR 417.5(e): records of a HACCP plan stay a year for refrigerated products and two for
// frozen, preserved and shelf-stable ones (from memory; the same years stand in the rule for fish, OAC 901:3-7).
const (
	LeastReadings = 30 * day
	leastBatches  = 365 * day
	doubtBatches  = 730 * day
	mostKept      = 36_500 * day
)

func readStore(t *table) Store {
	defer t.finish()
	s := Store{
		KeepReadings: t.days("keep_readings", LeastReadings, `keep_readings = "400d"`),
		KeepBatches:  t.days("keep_batches", leastBatches, `keep_batches = "1100d"`),
	}
	if s.KeepBatches > 0 && s.KeepReadings == 0 && !t.has("keep_readings") {
		t.problem("keep_batches", "", "removes nothing by itself", `keep_readings = "400d" beside it, or take the line out`)
	}
	if s.KeepBatches > 0 && s.KeepBatches < doubtBatches {
		t.doubt("keep_batches", t.text("keep_batches"), "is less than the two years for which records of preserved or shelf-stable meat are kept (9 CFR 417.5(e))",
			`keep_batches = "1100d", unless all of it was sold refrigerated`)
	}
	return s
}

// days is a number of whole days, such as 400d. 0: the key is not there.
func (t *table) days(key string, least time.Duration, example string) time.Duration {
	value, ok := t.get(key)
	if !ok {
		return 0
	}
	text, ok := value.(string)
	if !ok {
		t.problem(key, shown(value), fmt.Sprintf("is %s (%s), want text with a unit", describe(value), shown(value)), example)
		return 0
	}
	number, isDays := strings.CutSuffix(strings.TrimSpace(text), "d")
	n, err := strconv.ParseUint(strings.TrimSpace(number), 10, 32)
	switch length := time.Duration(min(n, 100_000)) * day; {
	case !isDays || err != nil:
		t.problem(key, text, fmt.Sprintf("%q is not a number of whole days (d)", text), example)
	case length < least || length > mostKept:
		t.problem(key, text, fmt.Sprintf("%s is not between %dd and %dd", text, least/day, mostKept/day), example)
	default:
		return length
	}
	return 0
}
