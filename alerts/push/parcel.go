package push

import (
	"context"
	"net/http/httptrace"
	"sync/atomic"

	"flitch/alerts"
)

// A parcel travels in the context, because notify's one method has room for two
// strings only. The notifier writes the receipt into it before it returns.
type parcel struct {
	message alerts.Message
	receipt string

	asked    atomic.Bool // something was begun of which the two below are told
	wrote    atomic.Bool // the message went out
	answered atomic.Bool // and something came back
}

type parcelKey struct{}

func withParcel(ctx context.Context, p *parcel) context.Context {
	return context.WithValue(ctx, parcelKey{}, p)
}

// parcelOf returns the parcel that Send put in; a notifier that is used without
// Send gets an empty one.
func parcelOf(ctx context.Context) *parcel {
	if p, ok := ctx.Value(parcelKey{}).(*parcel); ok {
		return p
	}
	return &parcel{}
}

// watched is told how far a request by HTTP came, whatever library makes it.
func (p *parcel) watched(ctx context.Context) context.Context {
	return httptrace.WithClientTrace(ctx, &httptrace.ClientTrace{
		GetConn:              func(string) { p.asked.Store(true) },
		WroteRequest:         func(httptrace.WroteRequestInfo) { p.wrote.Store(true) },
		GotFirstResponseByte: func() { p.answered.Store(true) },
	})
}

// mayHaveCome is whether a message that failed may have arrived all the same. Of a library that
// tells nothing it is known only that a time was over.
func (p *parcel) mayHaveCome(late bool) bool {
	if !p.asked.Load() {
		return late
	}
	return p.wrote.Load() && (late || !p.answered.Load())
}
