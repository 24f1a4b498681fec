package push

import (
	"bytes"
	"context"
	"crypto/ecdh"
	"crypto/rand"
	"encoding/base64"
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/SherClockHolmes/webpush-go"

	"flitch/alerts"
)

// How long the push service keeps a message for a phone that is switched off or
// out of reach: proposals. A ring that arrives hours late is of no use, and flitch
// asks again long before that. What can wait is worth reading the next morning.
const (
	ringKept = 30 * time.Minute
	tellKept = 12 * time.Hour
)

const (
	webPushLength = 600  // characters of the text; a locked phone shows far fewer
	mostPayload   = 3993 // bytes: 4096 less header, padding mark and sum (RFC 8291, section 4)
)

// NewSenderKey makes the key that push services know us by (RFC 8292): 32 bytes.
// A phone takes messages only from the key it was added with.
func NewSenderKey() ([]byte, error) {
	key, err := ecdh.P256().GenerateKey(rand.Reader)
	if err != nil {
		return nil, err
	}
	return key.Bytes(), nil
}

// SenderPublic is the public half of a sender's key as a browser wants it, in
// base64.
func SenderPublic(key []byte) (string, error) {
	private, err := ecdh.P256().NewPrivateKey(key)
	if err != nil {
		return "", errors.New("the sender's key is not one of P-256")
	}
	return inBase64(private.PublicKey().Bytes()), nil
}

func inBase64(raw []byte) string { return base64.RawURLEncoding.EncodeToString(raw) }

// webPush makes the way to one browser; without a browser, one that says that
// nobody is there.
func webPush(c *Channel, s Settings) error {
	if err := need("contact", s.Contact); err != nil {
		return err
	}
	c.limit = webPushLength
	if s.Browser == nil {
		c.notifier = noPhone{}
		return nil
	}
	public, err := SenderPublic(s.SenderKey)
	if err != nil {
		return err
	}
	endpoint, err := url.Parse(s.Browser.Endpoint)
	if err != nil {
		return errors.New("the endpoint is not a web address")
	}
	c.classify = func(err error) bool { return !errors.Is(err, errInside) }
	key := inBase64(s.SenderKey)
	c.secrets = append(append(c.secrets, key, inBase64(s.Browser.Secret)), parts(endpoint)...)
	c.notifier = &browserNotifier{
		client: reaching(s, endpoint),
		to:     webpush.Subscription{Endpoint: s.Browser.Endpoint, Keys: webpush.Keys{P256dh: inBase64(s.Browser.Public), Auth: inBase64(s.Browser.Secret)}},
		as:     webpush.Options{Subscriber: s.Contact, VAPIDPublicKey: public, VAPIDPrivateKey: key},
	}
	return nil
}

// noPhone is a channel of kind push before the first phone was added.
type noPhone struct{}

// Send says what is missing.
func (noPhone) Send(context.Context, string, string) error {
	return &alerts.SendError{Text: "no phone has been added: open the page on the phone and press Ring this phone"}
}

// browserNotifier sends one encrypted message to one browser. It stands in for
// the notify library's own webpush service, which takes 202 for a failure, can
// send several and stops at the first that fails, and shows the status only as
// text, so that a phone that is gone cannot be told from a service that is busy.
type browserNotifier struct {
	client *http.Client
	to     webpush.Subscription
	as     webpush.Options
}

// A notice is what the phone's service worker is given.
type notice struct {
	Title string `json:"title"`
	Text  string `json:"text"`
	Tag   string `json:"tag"`            // a newer notice of the same tag takes the older one's place
	Link  string `json:"link,omitempty"` // opened by a tap
	Ring  bool   `json:"ring"`           // stays until a person has looked
}

// Send encrypts and posts.
func (n *browserNotifier) Send(ctx context.Context, subject, body string) error {
	p := parcelOf(ctx)
	options := n.as
	options.HTTPClient = n.client
	options.Urgency, options.TTL = webpush.UrgencyNormal, int(tellKept/time.Second)
	if p.message.Level == alerts.Ring {
		options.Urgency, options.TTL = webpush.UrgencyHigh, int(ringKept/time.Second)
	}
	resp, err := webpush.SendNotificationWithContext(ctx, payload(p.message, subject, body), &n.to, &options)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	if resp.StatusCode == http.StatusCreated || resp.StatusCode == http.StatusAccepted {
		p.receipt = "answered " + statusText(resp.StatusCode)
		return nil
	}
	return judged(resp)
}

// judged turns an answer that is not 201 or 202 into what to do. 404 and 410 say
// that the subscription is no more (RFC 8030, section 7.3).
func judged(resp *http.Response) error {
	refusal := refused(resp)
	switch resp.StatusCode {
	case http.StatusNotFound, http.StatusGone:
		refusal.Gone = true
	case http.StatusUnauthorized, http.StatusForbidden:
		refusal.Text += " (it does not take our signature: is the clock right, and is contact a real address?)"
	}
	return refusal
}

// payload is the notice as JSON, with as much of the text as there is room for.
func payload(m alerts.Message, subject, body string) []byte {
	text, link := apart(body)
	n := notice{Title: subject, Text: text, Link: link, Tag: tag(m), Ring: m.Level == alerts.Ring}
	for limit := webPushLength; ; limit /= 2 {
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false) // it would take six bytes for one
		_ = e.Encode(n)        // text and a flag: it cannot fail
		if b.Len() <= mostPayload || limit == 0 {
			return b.Bytes()
		}
		n.Text = shorten(text, limit)
	}
}

// tag keeps the messages of one alarm together.
func tag(m alerts.Message) string {
	if m.Alarm == 0 {
		return "message-" + strconv.FormatInt(m.ID, 10)
	}
	return "alarm-" + strconv.FormatInt(m.Alarm, 10)
}

// apart takes the lines with an address out of a body: a notice is tapped, not
// read for a link. The last address is the one to open: it answers, where there
// is something to answer.
func apart(body string) (text, link string) {
	var lines []string
	for line := range strings.SplitSeq(body, "\n") {
		at := max(strings.Index(line, "http://"), strings.Index(line, "https://"))
		if at < 0 {
			lines = append(lines, line)
			continue
		}
		link, _, _ = strings.Cut(line[at:], " ")
	}
	return strings.TrimSpace(strings.Join(lines, "\n")), link
}
