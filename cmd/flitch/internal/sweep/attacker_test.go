package sweep

import (
	"bufio"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"flitch/ingest/mqtt/mqtttest"
)

// routes lists the patterns of a method that the page and the interface register, as they
// stand in the source: a new one is in every test of this file without being named.
func routes(t *testing.T, method string) (out []string) {
	t.Helper()
	for _, room := range []string{"web", "api"} {
		files, err := filepath.Glob(filepath.Join("..", room, "*.go"))
		if err != nil || len(files) == 0 {
			t.Fatalf("%v, no files of %s", err, room)
		}
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") {
				continue
			}
			parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(parsed, func(n ast.Node) bool {
				if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
					if text, err := strconv.Unquote(lit.Value); err == nil && strings.HasPrefix(text, method+" /") && !strings.ContainsAny(text[len(method)+1:], " ") {
						out = append(out, strings.TrimPrefix(text, method+" "))
					}
				}
				return true
			})
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// filled puts something into the parts of a pattern that are free.
func filled(pattern string) string {
	parts := strings.Split(strings.ReplaceAll(strings.TrimSuffix(pattern, "{$}"), "%d", "180"), "/")
	for i, p := range parts {
		if strings.HasPrefix(p, "{") {
			parts[i] = map[string]string{"{id}": "OL-31-04", "{name}": "alder-bottle", "{number}": "1"}[p]
			if parts[i] == "" {
				parts[i] = "x"
			}
		}
	}
	return strings.Join(parts, "/")
}

// openToAll need no sign-in: the sign-in itself, what browsers keep for themselves, and what
// carries a proof of its own.
var openToAll = []string{"/sign-in", "/api/sign-in", "/a/{token}", "/api/phones/renewed"}

// forGuests is what a guest may send: both stay in the own browser.
var forGuests = []string{"/sign-out", "/degrees"}

// forReviewers is what somebody who is no curer may send. A row that is missing here and is
// let through fails the test.
var forReviewers = []string{"/note", "/wood", "/batches/{id}/papers/note", "/batches/{id}/papers/review", "/acknowledge", "/judge", "/sign-out", "/degrees", "/api/phones"}

// Every way that changes something, as it stands in the source, is tried by nobody, by a
// guest and by a reviewer; nothing is entered by any of them but notes and answers.
func TestWhoMayNotMayNot(t *testing.T) {
	phone := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
	t.Cleanup(phone.Close)
	s := openShop(t, phone.URL, "")
	s.begin()
	wall := s.run(t, "", "password", "wall", "--guest")
	_, secret, ok := strings.Cut(wall, "/guest/")
	if !ok {
		t.Fatalf("no link: %s", wall)
	}
	guest := s.guest(t, strings.Fields(secret)[0])
	reviewer := s.signIn("M.O.", reviewerPassword)
	before := s.entries(s.token)
	all := routes(t, http.MethodPost)
	if len(all) < 20 {
		t.Fatalf("only %d ways found: %v", len(all), all)
	}
	for _, way := range all {
		if slices.Contains(openToAll, way) {
			continue
		}
		if status := s.send(t, way, "", "T.V."); status != http.StatusUnauthorized {
			t.Errorf("POST %s by nobody: %d", way, status)
		}
		if status := s.send(t, way, guest, "wall"); (status == http.StatusForbidden) == slices.Contains(forGuests, way) {
			t.Errorf("POST %s by a guest: %d", way, status)
		}
		if status := s.send(t, way, reviewer, "M.O."); status < 400 && !slices.Contains(forReviewers, way) {
			t.Errorf("POST %s by a reviewer: %d", way, status)
		}
	}
	if after := s.entries(s.token); after != before && strings.ReplaceAll(after, "sent by M.O.", "") == after {
		t.Errorf("something was entered:\n%s\nnow\n%s", before, after)
	}
	if status := s.send(t, "/note", reviewer, "M.O."); status != http.StatusOK || !strings.Contains(s.entries(s.token), "sent by M.O.") {
		t.Errorf("a reviewer's note: %d", status)
	}
	if status := s.send(t, "/note", reviewer, "T.V."); status != http.StatusUnprocessableEntity {
		t.Errorf("a reviewer signs for the curer: %d", status)
	}
}

// guest returns the token of a guest link.
func (s *shop) guest(t *testing.T, secret string) string {
	t.Helper()
	stay := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	answer, err := stay.Get(s.address + "/guest/" + secret)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	for _, c := range answer.Cookies() {
		if strings.HasSuffix(c.Name, "flitch") {
			return c.Value
		}
	}
	t.Fatalf("the guest link gives no cookie: %d", answer.StatusCode)
	return ""
}

// send posts a form that would be taken, or JSON to the interface.
func (s *shop) send(t *testing.T, way, token, by string) int {
	t.Helper()
	body, kind := "id=x&batch=OL-31-04&by="+by+"&text=sent+by+"+by+"&alarm=1&value=3.4&where=air&stage=smoke&until=23:00&degrees=C&back=/&ice=0.2&phone=1&name=x&unit=alder-bottle:F", "application/x-www-form-urlencoded"
	if strings.HasPrefix(way, "/api/") {
		body, kind = fmt.Sprintf(`{"by":%q,"kind":"turned","batch":"OL-31-04","name":"x","phone":1,"probe":"alder-bottle"}`, by), "application/json"
	}
	r, err := http.NewRequest(http.MethodPost, s.address+filled(way), strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", kind)
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	return answer.StatusCode
}

// marker is what every secret is in the test of secrets.
const marker = "oakmarkeroak"

const sealed = `
[[channel]]
name = "closed"
kind = "http"
url_file = "secret-url"
bearer_file = "secret-bearer"

[[channel]]
name = "mail"
kind = "email"
level = "ring"
host = "127.0.0.1"
port = 1
from = "flitch@smokehouse.example"
to = "tv@smokehouse.example"
user = "flitch"
password_env = "FLITCH_SWEEP_MAIL"

[heartbeat]
url_file = "secret-url"
every = "1m"

[[broker.user]]
name = "fridge-sensor"
password_file = "secret-bearer"

[test_ring]
day = "never"
`

// No secret is on any page, in any answer, in the log or among the metrics, also when what
// it is for fails and says why.
func TestNoSecretIsTold(t *testing.T) {
	dead := mqtttest.FreeAddress(t)
	folder := t.TempDir()
	for name, text := range map[string]string{"secret-url": "http://" + dead + "/" + marker, "secret-bearer": marker} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	more := strings.ReplaceAll(sealed, "_file = \"", "_file = \""+folder+"/")
	t.Setenv("FLITCH_SWEEP_MAIL", marker)
	s := openShop(t, "http://"+dead+"/open", more)
	s.begin()
	link := s.run(t, "", "password", "wall", "--guest")
	_, secret, _ := strings.Cut(link, "/guest/")
	secret = strings.Fields(secret)[0]
	s.guest(t, secret)
	s.must("checked", map[string]any{"batch": "", "check": map[string]any{"probe": "alder-bottle", "method": "ice", "read_c": 4.0}})
	hidden := []string{marker, curerPassword, reviewerPassword, secret, s.token}
	seen := 0
	search := func(where, text string) {
		seen++
		for _, h := range hidden {
			if strings.Contains(text, h) {
				t.Errorf("%s tells %q: ...%.300s", where, h, text[max(0, strings.Index(text, h)-150):])
			}
		}
	}
	for _, way := range routes(t, http.MethodGet) {
		if way == "/api/events" || way == "/guest/{secret}" {
			continue // one does not end, the other was asked above
		}
		answer, err := s.get(filled(way), s.token)
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(answer.Body)
		answer.Body.Close()
		if err != nil {
			t.Fatal(err)
		}
		search(way, string(body)+fmt.Sprint(answer.Header))
		s.guarded(t, way, answer)
	}
	if seen < 20 {
		t.Errorf("only %d answers looked at", seen)
	}
	s.failsToSend(t)
	s.stop()
	search("the log", s.Said())
	if !strings.Contains(s.Said(), "did not get through") { // of the heartbeat, whose address is a secret
		t.Errorf("nothing failed, so nothing was shown: %s", s.Said())
	}
}

// failsToSend waits until the channels were tried and said why they failed.
func (s *shop) failsToSend(t *testing.T) {
	t.Helper()
	for _, args := range [][]string{{"ring", "--channel", "closed"}, {"ring", "--channel", "mail"}} {
		c := exec.Command(binary, args...)
		c.Dir = s.folder
		out, err := c.CombinedOutput()
		if err == nil {
			t.Errorf("flitch %v worked with nobody at the other end", args)
		}
		if strings.Contains(string(out), marker) {
			t.Errorf("flitch %v tells the secret: %s", args, out)
		}
		t.Logf("flitch %v: %s", args, out)
	}
}

// guarded: what keeps a browser from being used against the house stands on every answer.
func (s *shop) guarded(t *testing.T, way string, answer *http.Response) {
	t.Helper()
	policy := answer.Header.Get("Content-Security-Policy")
	if !strings.Contains(policy, "frame-ancestors 'none'") || !strings.Contains(policy, "base-uri 'none'") || strings.Contains(policy, "unsafe-eval") || strings.Contains(policy, "http") {
		t.Errorf("%s: policy %q", way, policy)
	}
	if scripts := strings.Contains(policy, "script-src"); scripts && strings.Contains(policy, "script-src 'unsafe-inline'") {
		t.Errorf("%s: inline scripts are allowed: %q", way, policy)
	}
	if answer.Header.Get("X-Content-Type-Options") != "nosniff" {
		t.Errorf("%s may be taken for another kind", way)
	}
}

// Whoever bends a path or a name comes no further than the sign-in.
func TestBentRequestsComeNoFurther(t *testing.T) {
	phone := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
	t.Cleanup(phone.Close)
	s := openShop(t, phone.URL, "")
	s.begin()
	for _, line := range []string{"GET /static/../api/batches", "GET /static/%2e%2e/api/batches", "GET /a/..%2f..%2fapi/batches", "GET //api/batches", "GET /static//../../api/batches", "GET /icon-/../metrics",
		"GET /API/batches", "GET /api/batches/", "GET /guest/../batches", "GET http://127.0.0.1/api/batches", "HEAD /api/batches", "OPTIONS /api/batches", "CONNECT /static/../api/batches", "POST /static/../turned", "GET /sign-in/../batches"} {
		conn, err := net.Dial("tcp", strings.TrimPrefix(s.address, "http://"))
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(conn, "%s HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n", line)
		method, _, _ := strings.Cut(line, " ")
		answer, err := http.ReadResponse(bufio.NewReader(conn), &http.Request{Method: method})
		if err != nil {
			t.Fatalf("%s: %v", line, err)
		}
		body, err := io.ReadAll(answer.Body)
		conn.Close()
		if err != nil || answer.StatusCode < 300 || strings.Contains(string(body), "OL-31-04") {
			t.Errorf("%s: %d %v %.200s", line, answer.StatusCode, err, body)
		}
	}
}

// Reached by others, flitch does not start without anybody who could sign in, and shows
// nothing while nobody has a password.
func TestItIsNeverOpenByAccident(t *testing.T) {
	folder := t.TempDir()
	text := fmt.Sprintf(shopFile, mqtttest.FreeAddress(t), mqtttest.FreeAddress(t), "http://127.0.0.1:1/", "")
	text = strings.Replace(text, `listen = "127.0.0.1:`, `listen = "0.0.0.0:`, 1)
	people, rest := strings.Index(text, "[[person]]"), strings.Index(text, "[[channel]]")
	nobody := text[:people] + text[rest:]
	if err := os.WriteFile(filepath.Join(folder, "flitch.toml"), []byte(nobody), 0o600); err != nil {
		t.Fatal(err)
	}
	run := exec.Command(binary, "run")
	run.Dir = folder
	if out, err := run.CombinedOutput(); err == nil || !strings.Contains(string(out), "nobody who could sign in") || !strings.Contains(string(out), "nothing was started") {
		t.Errorf("without persons: %v %s", err, out)
	}
	s := &shop{folder: folder}
	if err := os.WriteFile(filepath.Join(folder, "flitch.toml"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	s.run(t, "", "init", "--database", "flitch.db")
	s.daemon = start(t, folder, "broker ", "run")
	_, port, err := net.SplitHostPort(strings.TrimPrefix(s.address, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	s.address = "http://127.0.0.1:" + port
	for _, way := range []string{"/api/batches", "/metrics", "/api/heard"} {
		answer, err := s.get(way, "")
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if answer.StatusCode != http.StatusUnauthorized {
			t.Errorf("%s while nobody has a password: %d", way, answer.StatusCode)
		}
	}
	if !strings.Contains(s.Said(), "nobody can sign in yet") {
		t.Errorf("it does not say that nobody can sign in: %s", s.Said())
	}
}
