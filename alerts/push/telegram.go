package push

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"sync"

	tgbotapi "github.com/go-telegram-bot-api/telegram-bot-api"
	"github.com/nikoksr/notify/service/telegram"

	"flitch/alerts"
)

// telegramLength is the longest text of one message, in characters, less room
// for the first line (Telegram Bot API, sendMessage: 4096).
const telegramLength = 3500

// plainText switches off the library's package-wide HTML mode, in which a "<" in
// a message makes the service refuse it.
var plainText = sync.OnceFunc(func() { (&telegram.Telegram{}).SetParseMode("") })

type telegramNotifier struct {
	token string
	chat  int64
	trip  roundTrip
}

func telegramChannel(c *Channel, s Settings) error {
	if err := need("token", s.Token, "target", s.Target); err != nil {
		return err
	}
	chat, err := strconv.ParseInt(s.Target, 10, 64)
	if err != nil {
		return errors.New("target is not a chat number, such as 123456789 or -100123456789")
	}
	trip := roundTrip{base: brief{newClient(s).Transport}}
	if s.Server != "" {
		if trip.server, err = url.Parse(s.Server); err != nil || trip.server.Host == "" {
			return errors.New("server is not an http or https address")
		}
	}
	plainText()
	c.limit = telegramLength
	c.notifier = &telegramNotifier{token: s.Token, chat: chat, trip: trip}
	return nil
}

// Send builds the service by hand: its constructor asks the network who we are,
// has no time limit and knows no context. The round trip brings all three.
func (n *telegramNotifier) Send(ctx context.Context, subject, body string) error {
	trip := n.trip
	trip.ctx = ctx
	service := &telegram.Telegram{}
	service.SetClient(&tgbotapi.BotAPI{Token: n.token, Client: &http.Client{Transport: &trip}})
	service.AddReceivers(n.chat)
	err := service.Send(ctx, subject, body)
	if err != nil && trip.refusal != nil {
		return trip.refusal
	}
	if err == nil {
		parcelOf(ctx).receipt = "taken by telegram"
	}
	return err
}

// roundTrip carries one request of a library that knows no context: it brings
// the deadline, another server, and the status that the library would drop.
type roundTrip struct {
	ctx     context.Context
	base    http.RoundTripper
	server  *url.URL // nil: as the library wants
	refusal *alerts.SendError
}

// RoundTrip sends a copy of the request.
func (t *roundTrip) RoundTrip(req *http.Request) (*http.Response, error) {
	req = req.Clone(t.ctx)
	if t.server != nil {
		req.URL.Scheme, req.URL.Host, req.Host = t.server.Scheme, t.server.Host, t.server.Host
	}
	resp, err := t.base.RoundTrip(req)
	if err != nil {
		return nil, err
	}
	if resp.StatusCode != http.StatusOK {
		defer resp.Body.Close()
		t.refusal = refused(resp)
		return nil, t.refusal
	}
	return resp, nil
}
