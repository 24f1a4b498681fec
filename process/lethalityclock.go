package process

import (
	"fmt"
	"time"

	"flitch/process/lethality"
	"flitch/process/rules"
)

// LethalSum is the time one core spent at or above each row of the plan's table,
// in minutes, with the uncertainty of its probe taken off first.
type LethalSum struct {
	Rows    []lethality.Dwell `json:"rows"` // in the order of the table
	MetRow  int               `json:"met_row"`
	MetAt   time.Time         `json:"met_at,omitzero"`
	Blind   float64           `json:"blind"` // minutes of gaps that earned nothing
	Highest float64           `json:"highest"`
}

func newLethalSum(rule LethalityRule) LethalSum {
	rows, _ := rules.Lethality(rule.Table)
	return LethalSum{Rows: make([]lethality.Dwell, len(rows))}
}

// add earns time for a part of a segment after the fire was first lit. Only a
// whole row counts: the table is not interpolated. A gap earns nothing.
func (l *LethalSum) add(s span, table string, uncertainty float64) {
	rows, ok := rules.Lethality(table)
	if !ok || len(rows) == 0 {
		return
	}
	seg := s.shifted(-uncertainty)
	l.Highest = max(l.Highest, s.v2)
	if seg.warmer() < rows[0].TempC {
		return
	}
	if s.gap {
		l.Blind += s.minutes()
	}
	for i, row := range rows {
		if seg.warmer() < row.TempC {
			break
		}
		l.Rows[i].Add(row.TempC, seg.v1, seg.v2, s.minutes(), s.bridge())
		if l.MetAt.IsZero() && !s.gap && rowMet(row, l.Rows[i].TotalMin, seg.v2) {
			l.MetRow, l.MetAt = i, s.to
		}
	}
}

// rounding is what a sum of many parts may be off by, in minutes: 60 µs.
const rounding = 1e-6

// rowMet reports whether the time at or above the row's temperature is enough. A
// row of zero minutes is met by being reached.
func rowMet(row rules.Row, minutes, now float64) bool {
	if row.Minutes == 0 {
		return now >= row.TempC
	}
	return minutes >= row.Minutes-rounding
}

func (l *LethalSum) met() bool { return !l.MetAt.IsZero() }

// best returns the row that is met, or the one nearest to it.
func (l *LethalSum) best(rows []rules.Row) int {
	if l.met() {
		return l.MetRow
	}
	best, share := 0, -1.0
	for i, row := range rows {
		if row.Minutes == 0 || l.Rows[i].TotalMin/row.Minutes <= share {
			continue
		}
		best, share = i, l.Rows[i].TotalMin/row.Minutes
	}
	return best
}

// lethalityClock is the core that is farthest from its row. Every core has to
// meet a row of the table.
func (b *Batch) lethalityClock() (Clock, bool) {
	rule := b.Plan.Lethality
	rows, ok := rules.Lethality(rule.Table)
	if !ok {
		return Clock{}, false
	}
	worst := b.worstLethal()
	c := Clock{Name: ClockLethality, Rule: rule.Rule, Source: rule.Source, AtLeast: true, Unit: "min"}
	if worst == nil {
		c.Limit, c.Verdict = rows[0].Minutes, b.unmeasuredUntil(heatOver)
		return c, true
	}
	i := worst.Lethal.best(rows)
	c.Rule = fmt.Sprintf("%s: %.1f °C (%.0f °F) for %s", rule.Rule, rows[i].TempC, rows[i].TempC*1.8+32, minutesText(rows[i].Minutes))
	dwell := worst.Lethal.Rows[i]
	c.Limit, c.Sum, c.To = rows[i].Minutes, dwell.TotalMin, worst.Lethal.MetAt
	c.From = worst.ComeUp.Passed
	c.Running = b.Open() && b.Stage().Heat && !worst.Lethal.met()
	c.doubts(b, worst)
	if dwell.TotalMin >= c.Limit-rounding && dwell.LongestMin < c.Limit-rounding {
		c.doubt("not in one go: the longest unbroken time is %s; the guideline counts all of it", minutesText(dwell.LongestMin))
	}
	switch {
	case worst.Lethal.met() && len(b.unheard()) > 0:
		c.Verdict = b.unmeasuredUntil(heatOver)
	case worst.Lethal.met():
		c.Verdict = Met
	case heatOver(b) && (!b.fired() || b.blindHeat(worst)+worst.Lethal.Blind > 0):
		c.Verdict = NotMeasured
	case heatOver(b):
		c.Verdict = NotMet
	}
	return c, true
}

func (c *Clock) doubts(b *Batch, worst *Track) {
	c.doubt("core of piece %s, read %.1f K low for the probe's uncertainty", worst.Probe.Piece, worst.Uncertainty())
	if worst.Lethal.Blind > 0 {
		c.doubt("no data for %s while hot: nothing earned", hoursText(worst.Lethal.Blind/60))
	}
	for _, why := range b.unheard() {
		c.doubt("%s", why)
	}
	for _, p := range b.Pieces {
		if !b.hasCore(p.Name) {
			c.doubt("no core probe in piece %s", p.Name)
		}
	}
}

func (b *Batch) hasCore(piece string) bool {
	for _, t := range b.Tracks {
		if t.Probe.Placement == Core && t.Probe.Piece == piece {
			return true
		}
	}
	return false
}

// worstLethal returns the core that has not met a row and reached the least, or
// the one that met its row last.
func (b *Batch) worstLethal() *Track {
	var worst *Track
	b.eachTrack(Core, func(t *Track) {
		if t.Samples == 0 {
			return
		}
		if worst == nil || lessLethal(&t.Lethal, &worst.Lethal) {
			worst = t
		}
	})
	return worst
}

func lessLethal(a, b *LethalSum) bool {
	if a.met() != b.met() {
		return !a.met()
	}
	if a.met() {
		return a.MetAt.After(b.MetAt)
	}
	return a.Highest < b.Highest
}

// lethalMet reports whether every core that was ever heard has met a row; a plan
// that asks for none is met as soon as it is asked.
func (b *Batch) lethalMet() bool {
	if _, ok := rules.Lethality(b.Plan.Lethality.Table); !ok {
		return true
	}
	worst := b.worstLethal()
	return worst != nil && worst.Lethal.met()
}

func minutesText(m float64) string {
	if m == 0 {
		return "an instant"
	}
	if m < 2 {
		return fmt.Sprintf("%.0f s", m*60)
	}
	return fmt.Sprintf("%.0f min", m)
}
