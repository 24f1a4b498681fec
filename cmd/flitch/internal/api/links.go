package api

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"strings"
	"time"

	"flitch/alerts"
)

const (
	linkLasts   = 24 * time.Hour // a message of yesterday is not answered from a pocket; proposal
	linkSum     = 16             // bytes: half of the sum, the least that RFC 2104, section 5, allows
	linkVersion = 1
	mostLink    = 512 // characters of a token that is looked at
)

// linkContext keeps this use of the key apart from any later one.
const linkContext = "flitch answer link\x00"

// Links are the addresses in messages that answer an alarm with one tap and
// without a sign-in. Whoever has the message may answer it, nobody else, and
// nothing but that: the token names the alarm, the channel it went to and its
// time, and is signed.
//
// It is not written down that a token was used. An answer that is not older than
// the message, by whatever way it came, has used up all links of the messages
// before it; when the alarm asks again, its new messages have new ones.
type Links struct {
	Key  []byte                      // of HMAC-SHA256, kept by this installation
	Base string                      // address of the page, without a slash at the end; empty: there are no links
	Zone *time.Location              // of the times on the page; nil: UTC
	Who  func(channel string) string // whose channel it is; nil or "": "link of siren" signs
}

// A ticket is what a token says.
type ticket struct {
	alarm   int64
	issued  time.Time
	channel string
}

// Link returns the address to answer m with; empty when there is nothing to
// answer. It is the same in each repeat of m.
func (l *Links) Link(m alerts.Message) string {
	over := m.Kind == alerts.Cleared || m.Kind == alerts.Acknowledged
	if l == nil || l.Base == "" || m.Alarm <= 0 || m.Level < alerts.Tell || over {
		return ""
	}
	return l.Base + "/a/" + l.token(ticket{m.Alarm, m.Due, m.Channel})
}

func (l *Links) token(t ticket) string {
	claim := binary.AppendUvarint([]byte{linkVersion}, uint64(t.alarm))
	claim = binary.AppendVarint(claim, t.issued.UnixMilli())
	claim = append(claim, t.channel...)
	return base64.RawURLEncoding.EncodeToString(append(claim, l.sum(claim)...))
}

func (l *Links) sum(claim []byte) []byte {
	mac := hmac.New(sha256.New, l.Key)
	mac.Write([]byte(linkContext))
	mac.Write(claim)
	return mac.Sum(nil)[:linkSum]
}

// read returns what a token says if it is ours. Nothing of it is looked at before
// its sum is found right.
func (l *Links) read(token string) (ticket, bool) {
	if len(token) > mostLink || len(l.Key) == 0 || strings.ContainsAny(token, "\r\n") { // the decoder would skip line ends
		return ticket{}, false
	}
	raw, err := base64.RawURLEncoding.Strict().DecodeString(token)
	if err != nil || len(raw) <= linkSum {
		return ticket{}, false
	}
	claim, sum := raw[:len(raw)-linkSum], raw[len(raw)-linkSum:]
	if !hmac.Equal(sum, l.sum(claim)) || claim[0] != linkVersion {
		return ticket{}, false
	}
	number, n := binary.Uvarint(claim[1:])
	if n <= 0 {
		return ticket{}, false
	}
	issued, m := binary.Varint(claim[1+n:])
	if m <= 0 {
		return ticket{}, false
	}
	return ticket{int64(number), time.UnixMilli(issued).UTC(), string(claim[1+n+m:])}, true
}

// by is who answers with the ticket.
func (l *Links) by(t ticket) string {
	if l.Who != nil {
		if who := l.Who(t.channel); who != "" {
			return who
		}
	}
	return alerts.LinkOf + t.channel
}

func (l *Links) clock(t time.Time) string {
	if l.Zone != nil {
		t = t.In(l.Zone)
	}
	return t.Format("Mon 2 Jan 15:04 MST")
}

// lasts reports whether the ticket is still good at a time. One from the future is as far
// off: the clock was set.
func (l *Links) lasts(now time.Time, t ticket) bool {
	age := now.Sub(t.issued)
	return age <= linkLasts && age >= -linkLasts
}
