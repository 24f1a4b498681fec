package record

import (
	"fmt"
	"time"

	"flitch/process"
)

// deviationsOf are the limits that were not kept, or the word that there are none.
func deviationsOf(s *study) []Form {
	f := Form{Name: "Deviations", Title: "Deviations", Columns: []string{"No.", "What", "From", "To", "Worst", "Limit", "Outcome"}, None: "None recorded."}
	for _, d := range s.Deviations {
		f.add(count(int64(d.Number)), text(d.What), s.Site.when(d.From), s.Site.when(d.To).or("not over"), text(d.Worst), text(d.Limit), strong(d.Outcome))
	}
	return []Form{f}
}

// correctiveActions is the log of what was done about them.
func correctiveActions(s *study) []Form {
	f := Form{Name: "Corrective action", Title: "Corrective action log", Source: "asked by 9 CFR 417.3 and 417.5(a)(3); the columns are common practice", None: "No deviation is recorded, so none was asked for.",
		Columns: []string{"No.", "Limit and value", "Began", "How long", "Cause and action", "Disposition", "By, written"}}
	for _, d := range s.Deviations {
		lasted := "not over"
		if !d.To.IsZero() {
			lasted = Span(d.To.Sub(d.From))
		}
		written := Cell{}
		if d.By != "" {
			written = lines(d.By, s.Site.Stamp(d.Typed))
		}
		f.add(count(int64(d.Number)), lines(d.What+": "+d.Worst, "limit "+d.Limit), s.Site.when(d.From), text(lasted), text(d.Text), strong(d.Outcome), written)
	}
	f.recorded()
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
		all = append(all, q.By+", "+site.Stamp(q.At))
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
		f.add(s.Site.when(e.Happened), s.said(e), text(e.By), s.later(e.Happened, e.Typed))
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
		return text(what + ": " + e.Text)
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
