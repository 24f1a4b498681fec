package api

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"flitch/process"
	"flitch/process/chart"
)

// picture returns what writes one drawing of a batch, or the numbers behind the chart
// for a cross-hair over it.
func (s *server) picture(r *http.Request, id, name string) (func(io.Writer) error, error) {
	view, err := s.view(r)
	if err != nil {
		return nil, err
	}
	kind, _, _ := strings.Cut(name, ".")
	if kind != "chart" {
		drawn, err := s.Reader.Drawing(r.Context(), id, kind, view.Width)
		if err != nil {
			return nil, err
		}
		return drawn.SVG, nil
	}
	temperatures, err := s.Reader.Chart(r.Context(), id, view)
	if name == "chart.json" {
		return temperatures.Hair, err
	}
	return temperatures.SVG, err
}

// view reads which part of the batch is wanted: from and to in RFC 3339, or
// hours, the latest so many; and the width in pixels.
func (s *server) view(r *http.Request) (v chart.View, err error) {
	q := r.URL.Query()
	if v.From, err = moment(q, "from"); err != nil {
		return v, err
	}
	if v.To, err = moment(q, "to"); err != nil {
		return v, err
	}
	hours, err := number(q, "hours", 1, 24*366)
	if err != nil {
		return v, err
	}
	if v.Width, err = number(q, "width", 300, 2400); err != nil {
		return v, err
	}
	if hours > 0 && v.From.IsZero() {
		end := v.To
		if end.IsZero() {
			end = s.Clock.Now()
		}
		v.From = end.Add(-time.Duration(hours) * time.Hour)
	}
	if !v.To.IsZero() && !v.To.After(v.From) {
		return v, &process.Refusal{What: "the chart would end before it begins", Hint: "let to come after from"}
	}
	return v, nil
}

func moment(q url.Values, name string) (time.Time, error) {
	text := q.Get(name)
	if text == "" {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return t, &process.Refusal{What: fmt.Sprintf("%s=%q is not a time", name, text), Hint: "write it like 2026-11-18T02:14:00Z"}
	}
	return t.UTC(), nil
}

func number(q url.Values, name string, low, high int) (int, error) {
	text := q.Get(name)
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < low || n > high {
		return 0, &process.Refusal{What: fmt.Sprintf("%s=%q cannot be drawn", name, text), Hint: fmt.Sprintf("a whole number from %d to %d", low, high)}
	}
	return n, nil
}
