package broker_test

import (
	"context"
	"fmt"
	"io"
	"net"
	"sync"
	"testing"

	"flitch/ingest"
	"flitch/ingest/broker"
)

// A stop ends although those who are sent away are back at once: before the port is closed,
// or with a CONNECT that was on its way.
func TestAStopEndsThoughClientsComeBack(t *testing.T) {
	for range 20 {
		in := start(t, newShelf(t), mappings(), ingest.Options{})
		b := serve(t, broker.Config{}, in, quietLog())
		const stubborn = 8
		var here, gone sync.WaitGroup
		here.Add(stubborn)
		for i := range stubborn {
			gone.Go(func() {
				once := sync.OnceFunc(here.Done)
				for stay(b.Addr(), fmt.Sprint("lamp", i), once) {
				}
			})
		}
		here.Wait()
		_ = in.Stop()
		ctx, cancel := context.WithTimeout(context.Background(), patience)
		if err := b.Close(ctx); err != nil {
			t.Errorf("the stop ended with %v", err)
		}
		cancel()
		gone.Wait()
	}
}

// stay connects and stays until it is sent away; false: nobody listens there any more.
func stay(addr, id string, admitted func()) bool {
	c, err := net.Dial("tcp", addr)
	if err != nil {
		return false
	}
	defer c.Close()
	if _, err := c.Write(staying(id)); err != nil {
		return true
	}
	var ack [4]byte
	if _, err := io.ReadFull(c, ack[:]); err != nil {
		return true
	}
	admitted()
	_, _ = io.Copy(io.Discard, c)
	return true
}
