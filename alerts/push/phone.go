package push

import (
	"context"
	"errors"
	"net/http"
	"regexp"
	"strconv"
	"sync"
	"time"

	pushbulletapi "github.com/cschomburg/go-pushbullet"
	"github.com/nikoksr/notify"
	"github.com/nikoksr/notify/service/bark"
	"github.com/nikoksr/notify/service/pushbullet"
)

// callLimit ends library calls that go on after Send has given up on them.
const callLimit = 2 * time.Minute

// limitDefaultClient gives http.DefaultClient a time limit if it has none, and answers an end. The
// pushover and pushbullet libraries use that client and no other, and know no
// context; without a limit, every send to a service that says nothing would
// leave a goroutine behind for ever.
var limitDefaultClient = sync.OnceFunc(func() {
	if http.DefaultClient.Timeout == 0 {
		http.DefaultClient.Timeout = callLimit
	}
	if http.DefaultClient.Transport == nil {
		http.DefaultClient.Transport = brief{http.DefaultTransport}
	}
})

// receipted writes a receipt for a service that gives none.
type receipted struct {
	notify.Notifier
	receipt string
}

// Send sends and notes who took the message.
func (r receipted) Send(ctx context.Context, subject, body string) error {
	err := r.Notifier.Send(ctx, subject, body)
	if err == nil {
		parcelOf(ctx).receipt = r.receipt
	}
	return err
}

func barkChannel(c *Channel, s Settings) error {
	if err := need("token", s.Token); err != nil {
		return err
	}
	server := s.Server
	if server == "" {
		server = bark.DefaultServerURL
	}
	c.notifier = receipted{bark.NewWithServers(s.Token, server), "taken by bark"}
	c.classify = statusMayPass
	return nil
}

func pushbulletChannel(c *Channel, s Settings) error {
	if err := need("token", s.Token, "target", s.Target); err != nil {
		return err
	}
	limitDefaultClient()
	service := pushbullet.New(s.Token)
	service.AddReceivers(s.Target)
	c.notifier = receipted{service, "taken by pushbullet"}
	c.classify = pushbulletMayPass
	return nil
}

// pushbulletMayPass is false when the service has said, in its own words, what
// is wrong with the request, or does not know the device. The two types that may
// pass are from memory of its documentation.
func pushbulletMayPass(err error) bool {
	if said, ok := errors.AsType[*pushbulletapi.ErrResponse](err); ok {
		return said.Type == "server" || said.Type == "ratelimited"
	}
	return !errors.Is(err, pushbulletapi.ErrDeviceNotFound) && statusMayPass(err)
}

// statusInText finds the status that a library has put into its error text and
// nowhere else: "bark returned status code 429: ...", "502 Bad Gateway".
var statusInText = regexp.MustCompile(`(?:status code |: |^)([1-5][0-9]{2})(?:[: ]|$)`)

// statusMayPass judges by the status in the text; without one it was trouble on
// the way, which may pass.
func statusMayPass(err error) bool {
	found := statusInText.FindStringSubmatch(err.Error())
	if found == nil {
		return true
	}
	status, _ := strconv.Atoi(found[1])
	return transient(status)
}
