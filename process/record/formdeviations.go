package record

import (
	"fmt"
	"strings"
	"time"

	"flitch/process"
)

// deviationsOf are the limits that were not kept, or the word that there are none.
func deviationsOf(s *study) []Form {
	f := Form{Name: "Deviations", Title: "Deviations", Columns: []string{"No.", "What", "From", "To", "Worst", "Limit", "Outcome"}, None: "None recorded."}
	for _, d := range s.Deviations {
		f.add(count(int64(d.Number)), text(d.What), s.Site.when(d.From), s.Site.when(d.To).or("not over"), text(d.Worst), text(d.Limit), s.outcome(d))
	}
	return []Form{f}
}

func (s *study) outcome(d Deviation) Cell {
	all := []string{d.Outcome, d.Text}
	if d.By != "" {
		all = append(all, d.By+", "+s.Site.Stamp(d.Typed))
	}
	for _, n := range d.Actions {
		all = append(all, fmt.Sprintf("corrective action no. %d", n))
	}
	if d.Open != "" {
		all = append(all, "open: "+d.Open)
	}
	return lines(all...)
}

// correctiveActions is the log of what was done about them, in the four parts of the rule.
func correctiveActions(s *study) []Form {
	f := Form{Name: "Corrective action", Title: "Corrective action log", Source: "the four parts of 9 CFR 417.3(a); who and when: 417.5(a)(3), (b)", None: "None recorded.",
		Columns: []string{"No.", "About", "Cause", "Under control", "Prevention", "Product", "Done, by"}}
	for _, a := range s.Actions {
		row := []Cell{count(int64(a.Number)), text(a.About)}
		for _, p := range a.Parts() {
			row = append(row, text(p.Text).or("missing"))
		}
		by := []string{s.Site.Stamp(a.At), typedLater(s.Site, a.At, a.Typed), a.By, afterReview(a.AfterReview)}
		if len(a.Lacks) > 0 {
			by = append(by, "not complete: "+strings.Join(a.Lacks, ", "))
		}
		f.add(append(row, lines(by...))...)
	}
	return []Form{f}
}

func afterReview(after bool) string {
	if after {
		return "after the review"
	}
	return ""
}

// dispositionsOf is what became of pieces that were held.
func dispositionsOf(s *study) []Form {
	f := Form{Name: "Dispositions", Title: "Dispositions", Source: "disposition of product: 9 CFR 417.3", None: "None recorded.",
		Columns: []string{"Decided", "What", "Pieces", "Basis", "Deviations decided on", "By"}}
	for _, d := range s.Dispositions {
		var covers []string
		for _, c := range d.Covers {
			covers = append(covers, c.Name)
		}
		f.add(s.Site.when(d.At), strong(string(d.What)), text(d.Of()), text(d.Why), text(strings.Join(covers, ", ")).or("no limit was over"), lines(d.By, typedLater(s.Site, d.At, d.Typed), afterReview(d.AfterReview)))
	}
	return []Form{f}
}

// happeningsOf is what the temperatures told of.
func happeningsOf(s *study) []Form {
	if len(s.Happenings) == 0 {
		return nil
	}
	f := Form{Name: "Events", Title: "What the temperatures told of", Columns: []string{"What", "From", "To", "Probe", "Noticed", "Detail"}}
	for _, h := range s.Happenings {
		f.add(text(h.Name), s.Site.when(h.From), s.Site.when(h.To).or("not over"), text(h.Probe), s.Site.when(h.Detected), text(h.Detail))
	}
	return []Form{f}
}

// whoWasTold are the alarms: what, when, who was told, who answered.
func whoWasTold(s *study) []Form {
	f := Form{Name: "Alarms", Title: "Who was told", Columns: []string{"No.", "What", "Raised, over", "Answered", "Told"}, None: "No alarm was raised."}
	for _, a := range s.Alarms {
		what := lines(a.Title+", "+a.Subject, fmt.Sprintf("%s, %s; limit %s, worst %s", a.Entry, a.LevelName, s.Site.Quantity(a.Limit, a.Unit), s.Site.Quantity(a.Worst, a.Unit)))
		over := "not over"
		if !a.ClearedAt.IsZero() {
			over = "over " + s.Site.Stamp(a.ClearedAt)
		}
		f.add(count(a.Number), what, lines("since "+s.Site.Stamp(a.Since), "raised "+s.Site.Stamp(a.RaisedAt), over), answered(s.Site, a), told(s.Site, a))
	}
	return []Form{f}
}

func answered(site Site, a Alarm) Cell {
	var all []string
	for _, q := range a.Answers {
		line := q.By + ", " + site.Stamp(q.At)
		if w := q.Withdrawn; w != nil {
			line += strings.TrimSuffix(", taken back "+site.Stamp(w.At)+" by "+w.By+": "+w.Why, ": ")
		}
		all = append(all, line)
	}
	if len(all) == 0 {
		return strong("nobody")
	}
	return lines(all...)
}

// told is how far each message came.
func told(site Site, a Alarm) Cell {
	var all []string
	for _, m := range a.Messages {
		line := fmt.Sprintf("%s, by %s", m.Kind, m.Channel)
		for i, q := range m.Who {
			line += map[bool]string{true: " (", false: ", "}[i == 0] + q
		}
		if len(m.Who) > 0 {
			line += ")"
		}
		line += ": " + m.Told()
		if !m.At.IsZero() {
			line += " " + site.Stamp(m.At)
		}
		if m.Attempts > 1 {
			line += fmt.Sprintf(", %d attempts", m.Attempts)
		}
		if m.Error != "" {
			line += ", " + m.Error
		}
		all = append(all, line)
	}
	if len(all) == 0 {
		return text("no message")
	}
	return lines(all...)
}

// entriesOf is what people said, in the order it was typed.
func entriesOf(s *study) []Form {
	f := Form{Name: "Entries", Title: "What people entered", Columns: []string{"Happened", "What", "By", "Typed"}, None: "Nothing was entered."}
	for _, e := range s.Entries {
		said := s.said(e)
		if e.Struck != nil {
			said = lines(said.Text, e.Struck.Words(s.Site.Stamp))
			said.Struck = true
		}
		f.add(s.Site.when(e.Happened), said, lines(e.By, afterReview(e.AfterReview)), s.later(e.Happened, e.Typed))
	}
	f.Notes = append(f.Notes, "Typed is given where it was more than a minute after it happened.")
	return []Form{f}
}

func (s *study) said(e Entry) Cell {
	what := string(e.Kind)
	if number := (sheetData{Record: s.Record}).Reading(e); number != "" {
		what += ": " + number + " by hand"
	}
	if e.Placement != "" {
		what += ", " + string(e.Placement)
	}
	if e.Piece != "" {
		what += " " + e.Piece
	}
	if e.Kind == process.CommandStage || e.Kind == process.CommandTurned {
		return lines(what+": "+e.Text, allTheSame(e.Why))
	}
	if p := e.Photo; p != nil {
		return lines(what, e.Text, fmt.Sprintf("photo, %d by %d, SHA-256 %s", p.Width, p.Height, p.SHA256))
	}
	return lines(what, e.Text)
}

// later is when something was typed, if that was not when it happened.
func (s *study) later(happened, typed time.Time) Cell {
	if typedLater(s.Site, happened, typed) == "" {
		return Cell{}
	}
	return s.Site.when(typed)
}

// typedLater says when an entry was typed, if that was not when it happened. An entry may
// be a minute old before it counts as typed later.
func typedLater(site Site, happened, typed time.Time) string {
	if typed.IsZero() || typed.Sub(happened).Abs() < time.Minute {
		return ""
	}
	return "typed " + site.Stamp(typed)
}
