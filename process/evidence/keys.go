package evidence

import (
	"crypto/ed25519"
	"fmt"
	"slices"
	"strings"
)

// A KeySpan is which lines one key has signed without another in between.
type KeySpan struct {
	Key         string // fingerprint
	First, Last int64  // lines of the journal
	At          int64  // when it first signed, ms
}

// Signers gathers by whom the lines were signed.
type Signers struct {
	Spans []KeySpan
	name  string
	key   ed25519.PublicKey
}

// Take adds a signature that was found valid. They come in the order of their lines.
func (s *Signers) Take(sig *Signature) {
	if s.name == "" || !s.key.Equal(sig.Key) {
		s.key, s.name = sig.Key, Fingerprint(sig.Key)
		s.Spans = append(s.Spans, KeySpan{Key: s.name, First: sig.Line, At: sig.At})
	}
	s.Spans[len(s.Spans)-1].Last = sig.Line
}

// Report says who signed, held against the fingerprints that were given, separated by
// commas; empty: none was.
func (s *Signers) Report(r *Report, given, with string) {
	const what = "signature"
	switch {
	case len(s.Spans) == 0:
		r.Add(NotMeasured, what, "nothing is signed: anybody could have made this")
	case given == "" && len(s.Spans) > 1:
		r.Add(LookAt, what, "%s; the keys came with the %s", s.text(), with)
	case given == "":
		r.Add(Met, what, "%s; the key came with the %s: this shows that nothing was changed since, not who signed", s.text(), with)
	case !slices.ContainsFunc(s.Spans, func(one KeySpan) bool { return !among(given, one.Key) }):
		r.Add(Met, what, "%s, which you gave", s.text())
	default:
		r.Add(NotMet, what, "%s; you gave %s", s.text(), given)
	}
}

// among reports whether the key is one of those given.
func among(given, key string) bool { return slices.Contains(strings.Split(given, ","), key) }

func (s *Signers) text() string {
	if len(s.Spans) == 1 {
		return "by key " + s.Spans[0].Key
	}
	var parts []string
	for _, one := range s.Spans {
		parts = append(parts, fmt.Sprintf("journal lines %d to %d by key %s", one.First, one.Last, one.Key))
	}
	return "more than one key has signed: " + strings.Join(parts, ", ")
}
