package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"flitch/cmd/flitch/internal/killpoint"
)

func TestMain(m *testing.M) {
	killpoint.Install()
	// A program with the race detector in it waits a second before it ends, and the scripts start hundreds.
	os.Setenv("GORACE", os.Getenv("GORACE")+" atexit_sleep_ms=0")
	testscript.Main(m, map[string]func(){"flitch": main, "careless": careless, "flitch-at": mainAt})
}

// The scripts are sessions at a terminal against a daemon that is a fake: it
// notes what it was asked in $WORK/asked, and answers from canned text.
func TestScripts(t *testing.T) {
	scripts, err := filepath.Glob("testdata/script/*.txtar")
	if err != nil || len(scripts) == 0 {
		t.Fatalf("no scripts: %v", err)
	}
	testscript.Run(t, testscript.Params{
		Files:               scripts,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			fake := &fakeDaemon{log: filepath.Join(env.WorkDir, "asked")}
			server := httptest.NewServer(fake)
			env.Defer(server.Close)
			env.Setenv("FLITCH_URL", server.URL)
			env.Setenv("TZ", "UTC")
			env.Setenv("GORACE", os.Getenv("GORACE"))
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits},
	})
}

// exits runs a command and demands its exit code: exits 2 flitch batch new.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits code command...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		exit, ok := errors.AsType[*exec.ExitError](err)
		if !ok {
			ts.Fatalf("%v", err)
		}
		got = exit.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit code %d, want %d", got, want)
	}
}

// A fakeDaemon stands for the JSON interface. The name of the batch says how it
// behaves: "lost" loses the answer once, "strange" is some other web server.
type fakeDaemon struct {
	log  string
	mu   sync.Mutex
	lost string // identity of the order whose answer was lost
}

func (f *fakeDaemon) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	f.mu.Lock()
	defer f.mu.Unlock()
	body, err := io.ReadAll(r.Body)
	if err != nil {
		return
	}
	if token := r.Header.Get("Authorization"); token != "" && r.URL.Path != "/push" {
		f.note(r.Method, "with", token)
	}
	switch {
	case r.URL.Path == "/push":
		f.note(r.Method, r.URL.Path, r.Header.Get("Authorization"))
		fmt.Fprint(w, `{"id":"r-17"}`)
	case r.URL.Path == "/api/sign-in":
		fmt.Fprint(w, `{"token":"the-token","ends":"2031-01-01T00:00:00Z"}`)
	case r.URL.Path == "/api/probes" && r.Method == http.MethodPost:
		f.note(r.Method, r.URL.Path, string(body))
		fmt.Fprint(w, `{"ok":true,"message":"probe is in the configuration"}`)
	case r.URL.Path == "/api/phones/remove":
		f.note(r.Method, r.URL.Path, string(body))
		fmt.Fprint(w, `{"ok":true,"message":"phone 2 rings no more","phone":2}`)
	case r.Method == http.MethodPost:
		f.order(w, body)
	default:
		f.note(r.Method, r.URL.RequestURI())
		f.canned(w, r)
	}
}

// order notes the order without its identity, which is random.
func (f *fakeDaemon) order(w http.ResponseWriter, body []byte) {
	var order map[string]any
	if err := json.Unmarshal(body, &order); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	id, _ := order["id"].(string)
	delete(order, "id")
	text, _ := json.Marshal(order)
	f.note("POST", string(text))
	switch {
	case len(id) < 20:
		http.Error(w, "the identity is too short", http.StatusTeapot)
	case order["batch"] == "lost" && f.lost == "":
		f.lost = id
		panic(http.ErrAbortHandler) // hangs up without an answer
	case order["batch"] == "lost" && f.lost != id:
		http.Error(w, "the same order came with another identity", http.StatusTeapot)
	case order["batch"] == "strange":
		http.Error(w, "<html>hello</html>", http.StatusBadGateway)
	case order["batch"] == "none":
		w.WriteHeader(http.StatusNotFound)
		fmt.Fprint(w, `{"error":"there is no batch none","hint":"flitch batch list"}`)
	default:
		fmt.Fprintf(w, `{"ok":true,"message":"%s taken, signed %s"}`, order["kind"], order["by"])
	}
}

func (f *fakeDaemon) canned(w http.ResponseWriter, r *http.Request) {
	text, err := os.ReadFile(filepath.Join(filepath.Dir(f.log), "canned", strings.ReplaceAll(r.URL.Path[1:], "/", "-")))
	if err != nil {
		w.WriteHeader(http.StatusNotFound)
		fmt.Fprint(w, `{"error":"there is no such thing"}`)
		return
	}
	w.Write(text)
}

func (f *fakeDaemon) note(words ...string) {
	file, err := os.OpenFile(f.log, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		panic(err)
	}
	defer file.Close()
	fmt.Fprintln(file, strings.TrimSpace(strings.Join(words, " ")))
}

var exampleLine = regexp.MustCompile(`(?m)^    flitch (.*)$`)

// Every command has a page of help with an example in it, and the parser takes
// the example.
func TestEveryCommandHasAnExample(t *testing.T) {
	t.Setenv("COLUMNS", "200")
	commands := regexp.MustCompile(`(?m)^  ([a-z]+(?: [a-z]+)?)  +[A-Z].*$`).FindAllStringSubmatch(helpOf(t), -1)
	if len(commands) < 15 {
		t.Fatalf("only %d commands found in:\n%s", len(commands), helpOf(t))
	}
	for _, command := range commands {
		examples := exampleLine.FindAllStringSubmatch(helpOf(t, strings.Fields(command[1])...), -1)
		if len(examples) == 0 {
			t.Errorf("flitch %s --help shows no example", command[1])
		}
		for _, example := range examples {
			if !strings.HasPrefix(example[1], command[1]) {
				t.Errorf("flitch %s --help shows another command: %s", command[1], example[1])
			}
			takes(t, example[1])
		}
	}
}

func takes(t *testing.T, line string) {
	t.Helper()
	var helped bool
	parser, err := newParser(terminal{out: io.Discard, err: io.Discard}, &helped)
	if err != nil {
		t.Fatal(err)
	}
	args := regexp.MustCompile(`"[^"]*"|\S+`).FindAllString(line, -1)
	if _, err := parser.Parse(args); err != nil {
		t.Errorf("flitch %s: %v", line, err)
	}
}

func helpOf(t *testing.T, command ...string) string {
	t.Helper()
	var out, complaints bytes.Buffer
	code := execute(append(command, "--help"), terminal{out: &out, err: &complaints, env: os.Getenv})
	if code != exitFine || complaints.Len() > 0 {
		t.Fatalf("%v --help: exit %d, %s", command, code, &complaints)
	}
	return out.String()
}
