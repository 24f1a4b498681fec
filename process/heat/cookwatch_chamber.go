package heat

// A lid lets the chamber fall by lidC in lidMin, and is closed when the chamber has
// regained lidBack of that. A fire is out when the chamber is fireC under what it
// was and falls for fireMin, or when a lid's fall is not regained in lidLost; it
// burns again when the chamber rises and is hot.
const (
	lidC       = 15.0 // K
	lidMin     = 3.0
	lidBack    = 0.70
	lidLost    = 25.0 // min
	fireC      = 12.0 // K
	fireFall   = -24. // K/h, 0.4 K/min
	fireMin    = 8.0
	fireRise   = 30.0 // K/h, 0.5 K/min
	fireHotC   = 80.0 // °C
	slopeMin   = 10.0 // minutes of the chamber's slope
	referMin   = 70.0 // the reference is the median of the minutes before now from here
	referLast  = 10.0 // to here
	referLeast = 20.0 // minutes of them needed
)

// lid opens and closes the event of an open lid.
func (w *CookWatch) lid(now, c float64) {
	if w.Lid.Open {
		w.Lid.ExtremeC = min(w.Lid.ExtremeC, c)
		if c >= w.Lid.ExtremeC+lidBack*(w.Lid.BeforeC-w.Lid.ExtremeC) {
			w.clear(&w.Lid, now, now)
		}
		return
	}
	if w.Fire.Open {
		return
	}
	recent := w.Chambers.since(now - lidMin)
	top := 0
	for i, s := range recent {
		if s.C >= recent[top].C {
			top = i
		}
	}
	if recent[top].C-c < lidC {
		return
	}
	from := top + 1
	for recent[from].C > recent[top].C-lidC/3 { // the fire's own wavering, before the lid
		from++
	}
	w.open(&w.Lid, CookEvent{Kind: LidOpen, From: recent[from].Min, Detected: now, BeforeC: recent[top].C, ExtremeC: c})
}

// fire opens and closes the event of a fire that went out.
func (w *CookWatch) fire(now, c float64) {
	switch {
	case w.Fire.Open:
		w.burning(now, c)
	case w.Lid.Open && now-w.Lid.From >= lidLost:
		lid := w.Lid
		w.clear(&w.Lid, now, now)
		w.open(&w.Fire, CookEvent{Kind: FireOut, From: lid.From, Detected: now, BeforeC: lid.BeforeC, ExtremeC: lid.ExtremeC})
	case w.Lid.Open:
		w.Cold = Since{}
	default:
		reference, ok := w.Chambers.reference(now)
		slope, known := w.Chambers.slopeSince(now - slopeMin)
		falling := ok && known && c < reference-fireC && slope.PerHour < fireFall
		if w.Cold.holds(now, falling) >= fireMin {
			w.open(&w.Fire, CookEvent{Kind: FireOut, From: w.Cold.From, Detected: now, BeforeC: reference, ExtremeC: c})
			w.Cold = Since{}
		}
	}
}

// burning closes the event. A chamber that was cooler than fireHotC with the fire
// burning cannot be asked to get hotter than it was: there, to come within fireC of
// that is enough.
func (w *CookWatch) burning(now, c float64) {
	w.Fire.ExtremeC = min(w.Fire.ExtremeC, c)
	hot := min(fireHotC, w.Fire.BeforeC-fireC)
	slope, known := w.Chambers.slopeSince(now - slopeMin)
	if !known || slope.PerHour <= fireRise || c <= hot {
		return
	}
	w.clear(&w.Fire, now, now)
	if !w.Slow.Open {
		w.Kappas = Rates{} // of another fire, and a core that has yet to follow this one
	}
}

// reference is the median of the chamber referMin to referLast minutes ago.
func (r *Recent71) reference(now float64) (float64, bool) {
	var values [71]float64
	n, oldest := 0, now
	for _, s := range r.since(now - referMin) {
		if s.Min > now-referLast {
			break
		}
		if n == 0 {
			oldest = s.Min
		}
		values[n] = s.C
		n++
	}
	if n < 3 || now-referLast-oldest < referLeast {
		return 0, false
	}
	return median(values[:n]), true
}
