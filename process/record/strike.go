package record

import "time"

// Words says that an entry was struck out, by whom, when and why; clock writes the time.
func (s *Strike) Words(clock func(time.Time) string) string {
	text := "struck out by " + s.By + ", " + clock(s.At)
	if s.Instead {
		text = "corrected by " + s.By + ", " + clock(s.At)
	}
	if s.Why != "" {
		text += ": " + s.Why
	}
	return text
}
