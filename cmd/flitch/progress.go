package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"
)

// A progress is a bar on a terminal that can draw one, and a line every tenth anywhere
// else.
type progress struct {
	out   io.Writer
	now   func() time.Time
	size  int64
	draws bool
	began time.Time
	last  time.Time
	tenth int64
}

func newProgress(t terminal, size int64) *progress {
	return &progress{out: t.err, now: t.now, size: max(size, 1), draws: isTerminal(t.err), began: t.now()}
}

func isTerminal(w io.Writer) bool {
	file, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := file.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// barWidth and drawEvery are common practice.
const (
	barWidth  = 30
	drawEvery = 100 * time.Millisecond
)

// show says how far it is.
func (p *progress) show(done, rows int64) {
	now := p.now()
	if !p.draws {
		if tenth := 10 * done / p.size; tenth > p.tenth {
			p.tenth = tenth
			fmt.Fprintln(p.out, p.text(now, done, rows))
		}
		return
	}
	if now.Sub(p.last) < drawEvery {
		return
	}
	p.last = now
	full := int(barWidth * min(done, p.size) / p.size)
	fmt.Fprintf(p.out, "\r[%s%s] %s   ", strings.Repeat("#", full), strings.Repeat(".", barWidth-full), p.text(now, done, rows))
}

func (p *progress) text(now time.Time, done, rows int64) string {
	text := fmt.Sprintf("%d %%, %d rows", 100*min(done, p.size)/p.size, rows)
	took := now.Sub(p.began)
	if took < time.Second || done == 0 {
		return text
	}
	left := time.Duration(float64(took) * float64(p.size-min(done, p.size)) / float64(done))
	return text + fmt.Sprintf(", %.0f a second, %s left", float64(rows)/took.Seconds(), left.Round(time.Second))
}

// end leaves the line.
func (p *progress) end() {
	if p.draws && !p.last.IsZero() {
		fmt.Fprintln(p.out)
	}
}
