package api

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// pipes is a listener of connections that the test makes, in the time of its bubble.
type pipes struct {
	next chan net.Conn
	done chan struct{}
}

func (p pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.next:
		return c, nil
	case <-p.done:
		return nil, net.ErrClosed
	}
}
func (p pipes) Close() error   { close(p.done); return nil }
func (p pipes) Addr() net.Addr { return address("192.0.2.7:8411") }

type address string

func (address) Network() string  { return "tcp" }
func (a address) String() string { return string(a) }

// named is an end of a pipe with an address.
type named struct {
	net.Conn
	from address
}

func (n named) RemoteAddr() net.Addr { return n.from }

// A doorway is the whole server behind pipes.
type doorway struct {
	t    *testing.T
	in   pipes
	deps Deps
	made *[]net.Conn
}

// behind runs a server in a bubble, with its own timeouts, bounds and guard.
func behind(t *testing.T, check func(d doorway)) {
	t.Helper()
	bubble(t, func(deps Deps) *http.Server { return NewServer(New(deps), slog.New(slog.DiscardHandler)) }, check)
}

// bubble runs one in the time of a bubble.
func bubble(t *testing.T, serve func(Deps) *http.Server, check func(d doorway)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		deps := (&house{}).deps()
		deps.Wall = bubbleClock{}
		d := doorway{t, pipes{make(chan net.Conn), make(chan struct{})}, deps, new([]net.Conn)}
		server := serve(deps)
		ended := make(chan error)
		go func() { ended <- server.Serve(NewCrowd(d.in)) }()
		check(d)
		deps.Events.Close()
		server.Close()
		<-ended
		for _, c := range *d.made {
			c.Close()
		}
		time.Sleep(time.Hour) // of the bubble, in which time stops with it
	})
}

func (d doorway) dial(from string) net.Conn {
	ours, theirs := net.Pipe()
	d.in.next <- named{theirs, address(from)}
	*d.made = append(*d.made, ours)
	return ours
}

// live asks for something as anybody would, from elsewhere.
func (d doorway) live(when string) {
	d.t.Helper()
	c := d.dial("198.51.100.1:5")
	defer c.Close()
	go io.WriteString(c, "GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n")
	answer, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil || answer.StatusCode != http.StatusOK {
		d.t.Errorf("%s: the page is not there for others: %v, %v", when, answer, err)
	}
}

// over reads to the end of a connection and returns what came and how long it took.
func over(c net.Conn) (answer string, took time.Duration) {
	began := time.Now()
	b, _ := io.ReadAll(c) // a connection that was cut has an end, too
	return string(b), time.Since(began)
}

// What does not end is ended: a header, a body, an answer that nobody reads.
func TestWhatDoesNotEndIsEnded(t *testing.T) {
	const post = "POST /api/commands HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
	drip := func(c net.Conn, text string, every time.Duration) {
		for i := 0; ; i++ {
			if _, err := io.WriteString(c, text[i%len(text):i%len(text)+1]); err != nil {
				return
			}
			time.Sleep(every) // of the bubble
		}
	}
	sent := 0
	for _, c := range []struct {
		name  string
		first string
		drip  string
		every time.Duration
		most  time.Duration
	}{
		{"nothing at all", "", "", 0, headerWithin},
		{"half a line", "GET / HT", "", 0, headerWithin},
		{"a slow header", "GET / HTTP/1.1\r\nHost: localhost\r\n", "X-A: b\r\n", time.Second, headerWithin},
		{"a body that does not come", post + "Content-Length: 100\r\n\r\n", "", 0, bodyWithin + time.Second},
		{"a slow body", post + "Content-Length: 60000\r\n\r\n", "{", time.Second, bodyWithin + time.Second},
		{"a slow upload", "POST /api/batches/OL-31-09/photos?by=TV&text=x HTTP/1.1\r\nHost: localhost\r\nContent-Length: 9000000\r\n\r\n", "x", time.Second, uploadWithin + time.Second},
		{"chunks without end", "POST /api/batches/OL-31-09/photos?by=TV&text=x HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n", "1\r\nx\r\n", time.Second, uploadWithin + time.Second},
		{"chunks without end, of a stranger", "POST /sign-in HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/x-www-form-urlencoded\r\nTransfer-Encoding: chunked\r\n\r\n", "1\r\nx\r\n", time.Second, bodyWithin + time.Second},
		{"a body nobody asked for", "GET /healthz HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\n\r\n", "x", time.Second, bodyWithin + headerWithin},
		{"a request and then nothing", "GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n", "", 0, idleWithin + time.Second},
	} {
		sent++
		behind(t, func(d doorway) {
			conn := d.dial("203.0.113.9:7")
			go func() {
				io.WriteString(conn, c.first)
				if c.drip != "" {
					drip(conn, c.drip, c.every)
				}
			}()
			d.live(c.name)
			answer, took := over(conn)
			if took > c.most || took < time.Second {
				t.Errorf("%s: over after %s, want %s: %.200s", c.name, took, c.most, answer)
			}
			d.live("after " + c.name)
		})
	}
	t.Logf("%d requests without an end", sent)
}

// The control: a server without bounds waits for all of that.
func TestABareServerWaits(t *testing.T) {
	bare := func(Deps) *http.Server {
		return &http.Server{Handler: http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { io.Copy(io.Discard, r.Body) })}
	}
	for _, first := range []string{"GET / HT", "POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\n\r\n"} {
		bubble(t, bare, func(d doorway) {
			c := d.dial("203.0.113.9:7")
			go io.WriteString(c, first)
			if err := c.SetReadDeadline(time.Now().Add(time.Hour)); err != nil {
				t.Fatal(err)
			}
			if answer, took := over(c); took < time.Hour {
				t.Errorf("over after %s: %q", took, answer)
			}
		})
	}
}

// Large bodies beyond those that may come in at once are refused after a while, and strangers hold
// up none.
func TestUploadsWaitForEachOther(t *testing.T) {
	const upload = "POST /api/batches/OL-31-09/photos?by=TV&text=x HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nContent-Length: 9000000\r\n\r\n"
	behind(t, func(d doorway) {
		for i := range 2 * maxUploads {
			c := d.dial(fmt.Sprintf("198.51.100.%d:7", i+1))
			go io.WriteString(c, "POST /sign-in HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n1\r\nx\r\n")
		}
		time.Sleep(time.Second) // of the bubble
		for i := range maxUploads {
			c := d.dial(fmt.Sprintf("203.0.113.%d:7", i+1))
			go io.WriteString(c, upload+"x")
		}
		time.Sleep(time.Second)
		c := d.dial("203.0.113.20:7")
		go io.WriteString(c, upload)
		answer, took := over(c)
		if !strings.Contains(answer, "503") || !strings.Contains(answer, "3 large uploads are under way") || took < bodyWithin {
			t.Errorf("the next one, after %v: %.300q", took, answer)
		}
	})
}

// An answer that nobody reads holds its place for half a minute, and no other is waiting then.
func TestAnAnswerThatNobodyReadsIsEnded(t *testing.T) {
	behind(t, func(d doorway) {
		const readers = 2 * maxDrawings
		for i := range readers {
			c := d.dial(fmt.Sprintf("203.0.113.9:%d", i+1))
			go io.WriteString(c, "GET /batches/OL-31-09/record.csv HTTP/1.1\r\nHost: localhost\r\n\r\n")
			var first [1]byte
			if i < maxDrawings {
				if _, err := c.Read(first[:]); err != nil {
					t.Fatal(err)
				}
			}
		}
		d.live("while records are not read")
		time.Sleep(3 * pieceWithin) // of the bubble
		c := d.dial("203.0.113.10:1")
		go io.WriteString(c, "GET /batches/OL-31-09/record.csv HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
		if answer, _ := over(c); !strings.Contains(answer, "200 OK") || len(answer) < 100_000 {
			t.Errorf("the next record: %.200q", answer)
		}
	})
}

// Odd requests have an answer that says no, and nothing else comes of them.
func TestOddRequestsAreRefused(t *testing.T) {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	for range 1000 {
		z.Write(make([]byte, 10000)) // 10 MB of nothing in 10 KB
	}
	z.Close()
	post := func(header, body string) string {
		return fmt.Sprintf("POST /api/commands HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n%sContent-Length: %d\r\n\r\n%s", header, len(body), body)
	}
	fields := strings.Repeat(`"f":1,`, 10000)
	list := map[string]struct {
		text string
		want string
	}{
		"a long header":       {"GET / HTTP/1.1\r\nHost: localhost\r\nX: " + strings.Repeat("x", 64<<10) + "\r\n\r\n", "431"},
		"many headers":        {"GET / HTTP/1.1\r\nHost: localhost\r\n" + strings.Repeat("X: y\r\n", 20000) + "\r\n", "431"},
		"a long path":         {"GET /" + strings.Repeat("x", 64<<10) + " HTTP/1.1\r\nHost: localhost\r\n\r\n", "431"},
		"another host":        {"GET / HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n", "403"},
		"no host":             {"GET / HTTP/1.1\r\nConnection: close\r\n\r\n", "400"},
		"two hosts":           {"GET / HTTP/1.1\r\nHost: localhost\r\nHost: evil.example\r\n\r\n", "400"},
		"a host with a space": {"GET / HTTP/1.1\r\nHost: local host\r\n\r\n", "400"},
		"a gzip bomb":         {post("Content-Encoding: gzip\r\n", packed.String()), "415"},
		"two lengths":         {"POST /api/commands HTTP/1.1\r\nHost: localhost\r\nContent-Length: 3\r\nContent-Length: 4\r\n\r\n{}  ", "400"},
		"length and chunks":   {"POST /api/commands HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nContent-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n", "400"},
		"deep JSON":           {post("", strings.Repeat(`{"kind":`, 7000)), "400"},
		"deep arrays":         {post("", strings.Repeat(`[`, 60000)), "400"},
		"a huge number":       {post("", `{"kind":"reading","value":1e999}`), "400"},
		"a long number":       {post("", `{"kind":"reading","value":`+strings.Repeat("9", 60000)+`}`), "400"},
		"a name twice":        {post("", `{"kind":"note","by":"T.V.","text":"a","text":"b"}`), "400"},
		"a name in two cases": {post("", `{"kind":"note","by":"T.V.","By":"M.O."}`), "400"},
		"ten thousand fields": {post("", "{"+fields+`"kind":"note"}`), "400"},
		"a body too long":     {post("", strings.Repeat(" ", maxBody+1)), "413"},
		"two objects":         {post("", `{"kind":"note"}{"kind":"note"}`), "400"},
		"half a letter":       {post("", "{\"kind\":\"n\xc3\"}"), "400 422"},
		"no method":           {"\x00\x01\x02 / HTTP/1.1\r\nHost: localhost\r\n\r\n", "400"},
		"TLS":                 {"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n", "400"},
		"a path upwards":      {"GET /static/../../../../etc/passwd HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", "301 307 404"},
		"a path hidden":       {"GET /static/%2e%2e/%2e%2e/etc/passwd HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", "200 301 307 404"}, // the page of the fake answers
	}
	for name, c := range list {
		behind(t, func(d doorway) {
			conn := d.dial("203.0.113.9:7")
			go io.WriteString(conn, c.text)
			answer, took := over(conn)
			status := ""
			if len(answer) > 12 {
				status = answer[9:12]
			}
			if !strings.Contains(c.want, status) || status == "" || took > time.Minute {
				t.Errorf("%s: after %s %.300q, want %s", name, took, answer, c.want)
			}
			d.live("after " + name)
		})
	}
	t.Logf("%d odd requests", len(list))
}

// Requests one behind the other on a connection are answered one behind the other.
func TestPipelined(t *testing.T) {
	behind(t, func(d doorway) {
		c := d.dial("203.0.113.9:7")
		const n = 200
		go io.WriteString(c, strings.Repeat("GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\nGET /api/glance HTTP/1.1\r\nHost: localhost\r\n\r\n", n))
		in := bufio.NewReader(c)
		for i := range 2 * n {
			answer, err := http.ReadResponse(in, nil)
			if err != nil || answer.StatusCode != http.StatusOK {
				t.Fatalf("answer %d: %v %v", i, answer, err)
			}
			body, err := io.ReadAll(answer.Body)
			if err != nil || strings.Contains(string(body), "OL-31-09") != (i%2 == 1) {
				t.Fatalf("answer %d: %.80s, %v", i, body, err)
			}
		}
	})
}

// One address has so many connections and streams, and so has everybody together; who comes
// from elsewhere gets in until then.
func TestACrowdIsBounded(t *testing.T) {
	behind(t, func(d doorway) {
		var opened atomic.Int64
		var all []net.Conn
		let := func(from string) bool {
			c := d.dial(from)
			opened.Add(1)
			wrote := make(chan error, 1)
			go func() { _, err := io.WriteString(c, "G"); wrote <- err }()
			if <-wrote != nil {
				return false
			}
			all = append(all, c)
			return true
		}
		in := 0
		for i := range 3 * maxOfOne {
			if let(fmt.Sprintf("203.0.113.9:%d", i+1)) {
				in++
			}
		}
		if in != maxOfOne {
			t.Errorf("%d of one address, want %d", in, maxOfOne)
		}
		in = 0
		for i := range 3 * maxOfOne {
			if let(fmt.Sprintf("[2001:db8:0:1::%x]:9", i+1)) {
				in++
			}
		}
		if in != maxOfOne {
			t.Errorf("%d of one network of IPv6, want %d", in, maxOfOne)
		}
		in = 0
		for i := range 250 {
			if let(fmt.Sprintf("198.18.0.%d:9", i+1)) {
				in++
			}
		}
		if want := maxConnections - 2*maxOfOne; in != want {
			t.Errorf("%d from elsewhere, want %d", in, want)
		}
		for _, c := range all {
			c.Close()
		}
		synctest.Wait()
		d.live("when the crowd is gone")
		t.Logf("%d connections tried", opened.Load())
	})
}

func TestStreamsOfOneAddressAreBounded(t *testing.T) {
	behind(t, func(d doorway) {
		follow := func(from string) int {
			c := d.dial(from)
			go io.WriteString(c, "GET /api/events HTTP/1.1\r\nHost: localhost\r\n\r\n")
			answer, err := http.ReadResponse(bufio.NewReader(c), nil)
			if err != nil {
				t.Fatal(err)
			}
			go io.Copy(io.Discard, answer.Body)
			return answer.StatusCode
		}
		for i := range maxFollowing {
			if got := follow("203.0.113.9:7"); got != http.StatusOK {
				t.Fatalf("stream %d: %d", i, got)
			}
		}
		if got := follow("203.0.113.9:7"); got != http.StatusServiceUnavailable {
			t.Errorf("one too many: %d", got)
		}
		if got := follow("203.0.113.10:7"); got != http.StatusOK {
			t.Errorf("of another address: %d", got)
		}
		time.Sleep(10 * uploadWithin) // of the bubble: no deadline of a request ends a stream
		if n := d.deps.Events.Followers(); n != maxFollowing+1 {
			t.Errorf("%d follow after a while", n)
		}
	})
}
