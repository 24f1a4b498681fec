package api

import (
	"compress/gzip"
	"fmt"
	"net/http"
	"strings"
	"sync"
)

// compressOver is how long an answer is at least that is worth compressing, bytes.
const compressOver = 1 << 10

// compressible are the kinds of answers that get shorter.
var compressible = []string{"text/html", "text/css", "text/javascript", "text/csv", "text/plain", "application/json", "image/svg+xml"}

// compress sends answers over 1 KB as gzip to whoever takes it. Pages hold no secret that
// somebody could guess from their length: no token, no password, no link of a guest. The
// stream of events stays as it is.
func compress(next http.Handler) http.Handler {
	writers := &sync.Pool{New: func() any {
		z, _ := gzip.NewWriterLevel(nil, gzip.BestSpeed) // the level is a good one
		return z
	}}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !takesGzip(r.Header.Get("Accept-Encoding")) || r.Header.Get("Range") != "" {
			next.ServeHTTP(w, r)
			return
		}
		c := &compressed{ResponseWriter: w, writers: writers}
		next.ServeHTTP(c, r) // a panic, which cuts the answer off, leaves it unfinished
		c.finish()
	})
}

// takesGzip reports whether a list such as "gzip;q=0.5, br" names gzip, and not with q=0
// (RFC 9110, 12.5.3).
func takesGzip(list string) bool {
	for part := range strings.SplitSeq(list, ",") {
		name, how, _ := strings.Cut(part, ";")
		if !strings.EqualFold(strings.TrimSpace(name), "gzip") {
			continue
		}
		q, given := strings.CutPrefix(strings.ReplaceAll(strings.ToLower(how), " ", ""), "q=")
		return !given || strings.Trim(q, "0.") != ""
	}
	return false
}

// A compressed answer keeps its first bytes back until it is known whether it is long.
type compressed struct {
	http.ResponseWriter
	writers *sync.Pool
	status  int
	first   []byte
	decided bool
	z       *gzip.Writer // nil: as it is
}

// WriteHeader notes the status; it is sent with the first bytes.
func (c *compressed) WriteHeader(status int) {
	if c.decided || status >= 100 && status < 200 {
		c.ResponseWriter.WriteHeader(status)
		return
	}
	if c.status == 0 {
		c.status = status
	}
	if kind := c.Header().Get("Content-Type"); !shrinks(kind) {
		c.decide(false)
	}
}

// Write implements http.ResponseWriter.
func (c *compressed) Write(b []byte) (int, error) {
	if !c.decided {
		if c.status == 0 {
			c.WriteHeader(http.StatusOK)
		}
		if !c.decided && len(c.first)+len(b) < compressOver {
			c.first = append(c.first, b...)
			return len(b), nil
		}
		if !c.decided {
			c.decide(c.whole())
		}
		if err := c.putFirst(); err != nil {
			return 0, err
		}
	}
	if c.z != nil {
		n, err := c.z.Write(b)
		if err != nil {
			return n, fmt.Errorf("compress: %w", err)
		}
		return n, nil
	}
	return c.ResponseWriter.Write(b)
}

// whole reports an answer that is neither a part nor compressed already.
func (c *compressed) whole() bool {
	return c.status != http.StatusPartialContent && c.Header().Get("Content-Encoding") == ""
}

func shrinks(kind string) bool {
	for _, k := range compressible {
		if strings.HasPrefix(kind, k) {
			return true
		}
	}
	return false
}

// decide sends the headers.
func (c *compressed) decide(squeeze bool) {
	c.decided = true
	if squeeze {
		h := c.Header()
		h.Set("Content-Encoding", "gzip")
		h.Add("Vary", "Accept-Encoding")
		h.Del("Content-Length")
		c.z = c.writers.Get().(*gzip.Writer)
		c.z.Reset(c.ResponseWriter)
	}
	c.ResponseWriter.WriteHeader(c.status)
}

func (c *compressed) putFirst() error {
	b := c.first
	c.first = nil
	if len(b) == 0 {
		return nil
	}
	var err error
	if c.z != nil {
		_, err = c.z.Write(b)
	} else {
		_, err = c.ResponseWriter.Write(b)
	}
	return err
}

// FlushError sends what there is. What is flushed before it is long is sent as it is.
func (c *compressed) FlushError() error {
	if !c.decided {
		if c.status == 0 {
			c.WriteHeader(http.StatusOK)
		}
		if !c.decided {
			c.decide(false)
		}
	}
	if err := c.putFirst(); err != nil {
		return err
	}
	if c.z != nil {
		if err := c.z.Flush(); err != nil {
			return fmt.Errorf("compress: %w", err)
		}
	}
	return http.NewResponseController(c.ResponseWriter).Flush()
}

// Unwrap lets deadlines reach the connection.
func (c *compressed) Unwrap() http.ResponseWriter { return c.ResponseWriter }

// finish ends an answer that was written to its end.
func (c *compressed) finish() {
	if !c.decided && c.status != 0 {
		c.decide(false)
	}
	c.putFirst() // the other side may be gone; nobody is left to be told
	if c.z != nil {
		c.z.Close()
		c.writers.Put(c.z)
	}
}
