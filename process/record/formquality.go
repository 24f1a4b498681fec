package record

import (
	"cmp"
	"fmt"
	"strings"
)

// dataQuality is how much of what should have been told was told, and how the journal was
// found.
func dataQuality(s *study) []Form {
	f := Form{Name: "Data quality", Title: "Quality of the data", None: "No probe was placed.",
		Columns: []string{"Probe", "Where", "Covered %", "Longest gap", "Readings", "Good", "Suspect", "Bad", "Late", "Sent again", "Left out, last check"}}
	for _, d := range s.Data {
		gap := text("none")
		if d.LongestGap > 0 {
			gap = lines(Span(d.LongestGap), "from "+s.Site.Short(d.GapFrom))
		}
		where := text(strings.TrimSuffix(strings.TrimSpace(string(d.Placement)+" "+d.Piece)+", "+d.Place, ", "))
		covered := amount(float64(int(d.Coverage*1000))/10, 1)
		f.add(text(d.Probe), where, covered, gap, count(int64(d.Count)), count(int64(d.Good)), count(int64(d.Suspect)), count(int64(d.Bad)), count(int64(d.Late)), count(int64(d.Duplicates)), s.trust(d))
	}
	chain := "each follows from the one before"
	if s.Chain.Fault != "" {
		chain = "broken: " + s.Chain.Fault
	}
	f.Notes = []string{
		fmt.Sprintf("Messages in this time that could not be used at all: %d. A gap is a silence of more than three intervals, at least five minutes; late is more than five minutes under way.", s.Rejected),
		fmt.Sprintf("Journal: %d lines, %s. Last: %s", s.Chain.Lines, chain, s.Chain.Last),
		s.SealWords(),
	}
	for _, gap := range s.DiskGaps {
		f.Notes = append(f.Notes, Printable("Disk: "+gap+"."))
	}
	return []Form{f}
}

func (s *study) trust(d ProbeData) Cell {
	var all []string
	for _, f := range d.LeftOut {
		all = append(all, s.Site.LeftOut(f))
	}
	if d.Placement.IsTemperature() {
		switch {
		case d.Failed != nil:
			all = append(all, "in doubt: "+d.Failed.Words()+", "+s.Site.Short(d.Failed.At)+", "+d.Failed.By)
		case d.LastGood == nil:
			all = append(all, "no good check is known")
		}
		if d.LastGood != nil {
			all = append(all, "last good check "+s.Site.Short(d.LastGood.At)+", "+d.LastGood.By)
		}
	}
	return lines(all...)
}

// signatures are made by, and reviewed by: as they were entered, else lines for a pen.
func signatures(s *study) []Form {
	f := Form{Name: "Signatures", Title: "Signatures", Facts: true, Blank: true}
	var made, madeAt Cell
	if !s.Head.Closed.IsZero() {
		made, madeAt = text(cmp.Or(s.Head.End.By, s.Head.By)), s.Site.when(s.Head.Closed)
		if !s.Head.End.Typed.IsZero() {
			madeAt = s.Site.when(s.Head.End.Typed)
		}
	}
	var reviewed, reviewedAt Cell
	if r := s.LastReview(); r != nil {
		reviewed, reviewedAt = lines(r.By, r.Text), s.Site.when(r.Typed)
	}
	f.add(text("Made by"), made)
	f.add(text("Date, time"), madeAt)
	f.add(text("Reviewed by"), reviewed)
	f.add(text("Date, time"), reviewedAt)
	for _, r := range s.Reviews {
		f.Notes = append(f.Notes, Printable(strings.TrimSuffix(fmt.Sprintf("Reviewed %s by %s: %s", s.Site.Stamp(r.At), r.By, r.Text), ": ")))
	}
	if len(s.Reviews) == 0 && !s.Head.Closed.IsZero() {
		f.Notes = append(f.Notes, "Waits for review.")
	}
	return []Form{f}
}
