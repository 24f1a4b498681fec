package push

import (
	"context"
	"errors"

	pushoverapi "github.com/gregdel/pushover"
	"github.com/nikoksr/notify/service/pushover"
)

// pushoverNotifier sends through the notify library at normal priority: the
// library has no way to ask for more. How loud that is, the person sets in the
// app, for the sound of this application.
type pushoverNotifier struct {
	service *pushover.Pushover
}

func pushoverChannel(c *Channel, s Settings) error {
	if err := need("token", s.Token, "target", s.Target); err != nil {
		return err
	}
	limitDefaultClient()
	service := pushover.New(s.Token)
	service.AddReceivers(s.Target)
	c.notifier = pushoverNotifier{service}
	c.limit, c.classify = pushoverapi.MessageMaxLength, pushoverMayPass
	c.secrets = append(c.secrets, s.Target)
	return nil
}

// Send sends. An answer of success whose headers lack the monthly quota is an
// error to the library; the message has been taken all the same.
func (n pushoverNotifier) Send(ctx context.Context, subject, body string) error {
	if err := n.service.Send(ctx, subject, body); err != nil && !errors.Is(err, pushoverapi.ErrInvalidHeaders) {
		return err
	}
	parcelOf(ctx).receipt = "taken by pushover"
	return nil
}

// pushoverMayPass is false for what the service or the library says about the
// message or the keys. The library does not tell the status, only that it was
// 500 or above.
func pushoverMayPass(err error) bool {
	if _, answered := errors.AsType[pushoverapi.Errors](err); answered {
		return false
	}
	for _, ours := range []error{
		pushoverapi.ErrEmptyToken, pushoverapi.ErrInvalidToken, pushoverapi.ErrEmptyRecipientToken, pushoverapi.ErrInvalidRecipientToken,
		pushoverapi.ErrMessageEmpty, pushoverapi.ErrMessageTooLong, pushoverapi.ErrMessageTitleTooLong,
	} {
		if errors.Is(err, ours) {
			return false
		}
	}
	return true
}
