package record

import (
	"fmt"
	"strings"
	"time"

	"flitch/process"
)

// head says what the batch is.
func head(s *study) []Form {
	f := Form{Name: "Batch", Title: "Batch", Facts: true}
	f.fact("Product", text(s.Head.Product))
	f.fact("Class", strong(string(s.Head.Class)))
	f.fact("Batch", strong(s.Head.Batch))
	f.fact("From", text(s.Site.Stamp(s.Head.Started)+", started by "+s.Head.By))
	f.fact("To", text(s.ends()))
	f.fact("Disposition", strong(s.Standing()))
	for i, p := range s.Head.Pieces {
		name := ""
		if i == 0 {
			name = "Pieces"
		}
		f.add(text(name), text(piece(p)))
	}
	f.fact("Plan", text(fmt.Sprintf("%s, version %d, SHA-256 %s", s.Head.Plan.Name, s.Head.Plan.Version, s.Head.Plan.Hash)))
	if s.Head.Closed.IsZero() {
		f.Notes = append(f.Notes, "The batch goes on. This record is right up to "+s.Site.Stamp(s.MadeAt)+" and says nothing of what comes after.")
	}
	return []Form{f}
}

func (r *Record) ends() string {
	if r.Head.Closed.IsZero() {
		return "not closed; this record ends " + r.Site.Stamp(r.MadeAt)
	}
	by := ""
	if r.Head.End.By != "" {
		by = ", closed by " + r.Head.End.By
	}
	return strings.TrimSuffix(r.Site.Stamp(r.Head.Closed)+by+": "+r.Head.End.Why, ": ")
}

func piece(p process.Piece) string {
	words := fmt.Sprintf("%s: %s g green, %s mm", p.Name, fixed(p.GreenG, 0), fixed(p.ThicknessMM, 0))
	if p.SkinOn {
		words += ", skin on"
	}
	return words
}

// customerHead is head without what goes on inside.
func customerHead(s *study) []Form {
	f := Form{Name: "Batch", Title: "What it is", Facts: true}
	f.fact("Product", text(s.Head.Product))
	f.fact("Class", strong(string(s.Head.Class)))
	f.fact("Batch", strong(s.Head.Batch))
	f.fact("Disposition", strong(s.Standing()))
	f.fact("Begun", text(s.Site.day(s.Head.Started).Text))
	if packed, ok := s.packed(); ok {
		f.fact("Packed", text(s.Site.day(packed).Text))
	} else {
		f.fact("Packed", text("not recorded"))
	}
	f.fact("Pieces", count(int64(len(s.Head.Pieces))))
	if e := doses(s.Doses, s.Head.Pieces); len(e) > 0 {
		f.fact("Curing salt", text(fmt.Sprintf("with %s nitrite; %s", Percent(e[len(e)-1].Said.Nitrite), ppmRange(e))))
	}
	f.Notes = append(f.Notes, "A list of ingredients is not part of this record.")
	return []Form{f}
}

// doses are those in force: of each piece the one typed last.
func doses(all []process.DoseEntry, pieces []process.Piece) (out []process.DoseEntry) {
	for i, e := range all {
		if inForce(all[i+1:], e.Pieces) {
			out = append(out, e)
		}
	}
	return out
}

// inForce reports whether one of the pieces has no later dose.
func inForce(later []process.DoseEntry, pieces []string) bool {
	for _, p := range pieces {
		again := false
		for _, e := range later {
			again = again || strings.Contains("\n"+strings.Join(e.Pieces, "\n")+"\n", "\n"+p+"\n")
		}
		if !again {
			return true
		}
	}
	return false
}

func ppmRange(all []process.DoseEntry) string {
	low, high := all[0].PPM, all[0].PPM
	for _, e := range all {
		low, high = min(low, e.PPM), max(high, e.PPM)
	}
	if fixed(low, 0) == fixed(high, 0) {
		return fixed(low, 0) + " ppm ingoing nitrite"
	}
	return fixed(low, 0) + " to " + fixed(high, 0) + " ppm ingoing nitrite"
}

// packed is when the batch was packed, or stored without that.
func (r *Record) packed() (time.Time, bool) {
	for _, name := range []process.StageName{process.StagePack, process.StageStore} {
		if s, ok := r.entered(name); ok {
			return s.Entered, true
		}
	}
	return time.Time{}, false
}

// useBy is the last day by the plan's rule for packed product. False: nobody packed it, or
// the plan has no rule.
func (r *Record) useBy() (time.Time, bool) {
	packed, ok := r.packed()
	if !ok || r.Plan.Keep.Days == 0 {
		return time.Time{}, false
	}
	return packed.Add(time.Duration(r.Plan.Keep.Days * 24 * float64(time.Hour))), true
}

// keeping is how the product is kept and cooked, by its class and the plan.
func keeping(s *study) []Form {
	f := Form{Name: "Keeping", Title: "Keep and cook", Facts: true}
	switch s.Head.Class {
	case process.NotFullyCooked:
		f.fact("Before eating", strong("Not fully cooked: cook it through before eating."))
	case process.FullyCooked:
		f.fact("Before eating", text("Of the class fully cooked. Whether its heat limits were kept is said above."))
	}
	f.fact("Keep", text(s.Plan.Keep.Rule))
	f.fact("", text(s.Plan.Keep.Source))
	if day, ok := s.useBy(); ok {
		f.fact("Use by", strong(s.Site.day(day).Text+", kept as said here"))
	} else {
		f.fact("Use by", text("not known: no day of packing is recorded"))
	}
	return []Form{f}
}
