package app

import (
	"context"
	"errors"
	"net"
	"net/http"
	"sync"
)

// A door is a port with the server behind it.
type door struct {
	listener net.Listener
	server   *http.Server // with a TLSConfig it speaks https
}

// serve answers requests until ctx ends.
func (d *door) serve(ctx context.Context) error {
	var wait sync.WaitGroup
	wait.Go(func() {
		<-ctx.Done()
		late, cancel := context.WithTimeout(context.Background(), stopWithin)
		defer cancel()
		if err := d.server.Shutdown(late); err != nil {
			d.server.Close()
		}
	})
	err := d.answer()
	wait.Wait()
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

func (d *door) answer() error {
	if d.server.TLSConfig != nil {
		return d.server.ServeTLS(d.listener, "", "") // the certificate is in TLSConfig
	}
	return d.server.Serve(d.listener)
}

func (d *door) close() {
	if d != nil {
		d.listener.Close()
	}
}
