package scenario

import "time"

// maxReadings bounds what one scenario may come to.
const maxReadings = 1_000_000

// checkSeries complains about two series of a probe at one time, and about more
// readings than anybody means.
func (p *parser) checkSeries() {
	type told struct {
		to   time.Duration
		line int
	}
	last := map[string]told{}
	count := 0
	for _, l := range p.Lines {
		s, ok := l.Item.(Series)
		if !ok {
			continue
		}
		if before := last[s.Probe]; s.From < before.to {
			p.noteAt(l.Number, wrong("one end to the other", "line %d says already what %s reads until %s", before.line, s.Probe, p.clock().text(before.to)))
		}
		last[s.Probe] = told{s.To, l.Number}
		if count += int((s.To - s.From) / s.interval(*p.probe(s.Probe))); count > maxReadings {
			p.noteAt(l.Number, wrong("a longer interval behind every", "more than %d readings", maxReadings))
			return
		}
	}
}
