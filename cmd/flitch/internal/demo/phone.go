package demo

import (
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"
)

// A phone is the pretend one: a real HTTP receiver that prints what reaches it.
type phone struct {
	print    io.Writer
	listener net.Listener
	server   *http.Server
	serving  sync.WaitGroup
}

func newPhone(print io.Writer) (*phone, error) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	p := &phone{print: print, listener: listener}
	p.server = &http.Server{Handler: p, ReadHeaderTimeout: 5 * time.Second}
	p.serving.Go(func() { p.server.Serve(listener) }) // ends with close
	return p, nil
}

func (p *phone) address() string { return "http://" + p.listener.Addr().String() + "/ring" }

func (p *phone) close() {
	p.server.Close()
	p.serving.Wait()
}

// ServeHTTP prints the two lines that a locked phone would show.
func (p *phone) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var m struct {
		Level string `json:"level"`
		Title string `json:"title"`
		Text  string `json:"text"`
	}
	if err := json.NewDecoder(io.LimitReader(r.Body, 1<<16)).Decode(&m); err != nil {
		http.Error(w, "not a message", http.StatusBadRequest)
		return
	}
	lines := strings.SplitN(m.Text, "\n", 3)
	fmt.Fprintf(p.print, "                  ┌ phone, %s: %s\n                  └ %s\n", m.Level, m.Title, lines[0])
	fmt.Fprint(w, "shown")
}
