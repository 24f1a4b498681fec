package main

import (
	"bytes"
	"testing"

	"flitch/alerts"
)

func TestTheReportOfJudgements(t *testing.T) {
	rang := rungs([]alerts.Occurrence{
		{Number: 1, Entry: "H3", Level: alerts.Ring}, {Number: 2, Entry: "H3", Level: alerts.Ring}, {Number: 3, Entry: "C1", Level: alerts.Tell}, {Number: 4, Entry: "C2", Level: alerts.Ring},
	})
	for _, c := range []struct {
		rang   map[string]int
		judged map[string]map[string]int
		want   string
	}{
		{rang, map[string]map[string]int{"H3": {"useful": 1}, "C2": {"false": 1}},
			"ALARM  RANG  USEFUL  FALSE  LATE  NOT JUDGED\nC2     1     0       1      0     0\nH3     2     1       0      0     1\n"},
		{nil, nil, "nothing has rung so far\n"},
	} {
		var out bytes.Buffer
		if err := printJudged(&out, c.rang, c.judged); err != nil || out.String() != c.want {
			t.Errorf("%v\n%s", err, out.String())
		}
	}
}
