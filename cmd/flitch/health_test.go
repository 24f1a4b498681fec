package main

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

func TestHealthSaysWhatIsWrong(t *testing.T) {
	for name, c := range map[string]struct {
		status    int
		body      string
		out, err  string
		exit      int
		exitAlive int
	}{
		"fine":          {200, `{"ok":true}`, "nothing is wrong", "", 0, 0},
		"a full disk":   {503, `{"ok":false,"faults":[{"name":"disk","text":"full; free some space"}]}`, "disk: full; free some space\n", "1 thing wrong; try: flitch alarms, ", 1, 0},
		"another page":  {200, `<html>`, "", "not that of flitch", 1, 1},
		"another JSON":  {200, `{"status":"up"}`, "", "not that of flitch", 1, 1},
		"a lost server": {502, `{"ok":true}`, "", "502", 1, 1},
	} {
		t.Run(name, func(t *testing.T) {
			page := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				if r.URL.Path != "/healthz" {
					t.Errorf("asked for %s", r.URL.Path)
				}
				w.WriteHeader(c.status)
				_, _ = w.Write([]byte(c.body))
			}))
			defer page.Close()
			out, said, exit := wellOf(page.URL)
			if exit != c.exit || !strings.Contains(out, c.out) || !strings.Contains(said, c.err) {
				t.Errorf("exit %d, %q, %q; want %d, %q, %q", exit, out, said, c.exit, c.out, c.err)
			}
			if _, _, exit := wellOf(page.URL, "--alive"); exit != c.exitAlive {
				t.Errorf("--alive: exit %d, want %d", exit, c.exitAlive)
			}
		})
	}
}

func TestHealthOfNobody(t *testing.T) {
	page := httptest.NewServer(http.NotFoundHandler())
	page.Close()
	for _, flags := range [][]string{nil, {"--alive"}} {
		if _, said, exit := wellOf(page.URL, flags...); exit != exitProblem || !strings.Contains(said, "no answer from") {
			t.Errorf("exit %d, %q", exit, said)
		}
	}
	if _, said, exit := wellOf("nonsense"); exit != exitUsage || !strings.Contains(said, "not the address") {
		t.Errorf("exit %d, %q", exit, said)
	}
}

// wellOf runs flitch health against an address.
func wellOf(url string, flags ...string) (out, said string, exit int) {
	var o, e bytes.Buffer
	exit = execute(append([]string{"health", "--url", url}, flags...), terminal{out: &o, err: &e, env: func(string) string { return "" }, client: &http.Client{}})
	return o.String(), e.String(), exit
}
