package main

import (
	"bufio"
	"bytes"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// markedSecrets is the configuration with a secret wherever one can be; the words of the secrets
// are their own names.
const markedSecrets = `
[[broker.user]]
name = "sensor"
password_file = "secrets/broker"

[[broker.user]]
name = "other"
password_env = "FLITCH_TEST_MARKER"

[[person]]
name = "Tamsin Vale"
initials = "T.V."
channels = ["hook"]

[heartbeat]
url_file = "secrets/beat"
every = "1m"

[[channel]]
name = "hook"
kind = "http"
url_file = "secrets/hook"
bearer_file = "secrets/bearer"

[[channel]]
name = "slack"
kind = "slack"
url_file = "secrets/slack"

[[channel]]
name = "telegram"
kind = "telegram"
token_file = "secrets/telegram"
chat = "-1001234567890"

[[channel]]
name = "pushover"
kind = "pushover"
token_file = "secrets/pushover"
user_file = "secrets/pushoveruser"

[[channel]]
name = "matrix"
kind = "matrix"
server = "SERVER"
token_file = "secrets/matrix"
room = "!abcdef:larder.example"

[[channel]]
name = "ntfy"
kind = "ntfy"
server = "SERVER"
topic_file = "secrets/ntfytopic"
token_file = "secrets/ntfy"

[[channel]]
name = "bark"
kind = "bark"
server = "SERVER"
key_file = "secrets/bark"

[[channel]]
name = "mail"
kind = "email"
host = "localhost"
port = 9
security = "none"
from = "flitch@larder.example"
to = "tv@larder.example"
`

// A secret word looks like nothing else, and has letters that are written otherwise in an
// address.
func marker(name string) string { return "mk9+" + name + "/q7=zx&" + name + "-hush" }

// spellings are how a secret may be written. In base64 it begins at any of three places.
func spellings(secret string) (all []string) {
	all = []string{secret, url.QueryEscape(secret), url.PathEscape(secret), hex.EncodeToString([]byte(secret)), strings.Trim(fmt.Sprintf("%q", secret), `"`), strings.Trim(fmt.Sprint([]byte(secret)), "[]")}
	text, _ := json.Marshal(secret)
	all = append(all, strings.Trim(string(text), `"`))
	for shift := range 3 {
		for _, code := range []*base64.Encoding{base64.StdEncoding, base64.URLEncoding} {
			whole := code.EncodeToString(append(make([]byte, shift), secret...))
			all = append(all, whole[4*min(shift, 1):len(whole)-4]) // without what its neighbours take part in
		}
	}
	return all
}

// found are the secrets that stand in a text in any spelling.
func found(text []byte, secrets map[string]string) (names []string) {
	for name, secret := range secrets {
		for _, s := range spellings(secret) {
			if bytes.Contains(text, []byte(s)) {
				names = append(names, name)
				break
			}
		}
	}
	return names
}

// A secret of the configuration, a password, a key, a token stands where it belongs and
// nowhere else: not in the log, in what commands print, in a page, the figures, a record, a
// proof, the journal, a message about a service that answers with all it was sent, the
// arguments of the process, or what is left when it is killed to look at.
func TestSecretsStayWhereTheyAre(t *testing.T) {
	var echoed int
	echo := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		echoed++ // a service that says all it was told, as some do
		w.WriteHeader(http.StatusForbidden)
		fmt.Fprintf(w, "refused %s %s %v ", r.Method, r.RequestURI, r.Header)
		io.Copy(w, r.Body)
	}))
	defer echo.Close()
	l := installed(t, t.TempDir())
	secrets := map[string]string{"environment": marker("environment"), "password": marker("password"), "wrong password": marker("wrong")}
	for _, name := range []string{"broker", "bearer", "telegram", "pushover", "pushoveruser", "matrix", "ntfy", "ntfytopic", "bark", "beat", "hook", "slack"} {
		secrets[name] = marker(name)
		text := secrets[name]
		if name == "beat" || name == "hook" || name == "slack" { // addresses that hold one
			text = echo.URL + "/" + url.PathEscape(secrets[name])
		}
		if name == "ntfytopic" {
			secrets[name] = "mk9ntfytopicq7zxhush"
			text = secrets[name]
		}
		writeSecret(t, filepath.Join(l.dir, "secrets", name), text)
	}
	path := filepath.Join(l.dir, "flitch.toml")
	config, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	config = bytes.Replace(config, []byte("[page]\nlisten = \"127.0.0.1:0"), []byte("[page]\nlink = \"http://smokehouse.lan:8411\"\nlisten = \"0.0.0.0:0"), 1)
	config = append(config, strings.ReplaceAll(markedSecrets, "SERVER", echo.URL)...)
	if err := os.WriteFile(path, config, 0o644); err != nil {
		t.Fatal(err)
	}
	env := append(os.Environ(), "FLITCH_TEST_MARKER="+secrets["environment"], "FLITCH_URL=", "TZ=UTC", "HTTPS_PROXY="+echo.URL, "https_proxy="+echo.URL, // nobody outside is asked
		"HOME="+t.TempDir(), "XDG_CONFIG_HOME="+t.TempDir())
	said := new(bytes.Buffer) // all that is printed
	looked := 0
	run := func(in string, args ...string) string {
		t.Helper()
		c := exec.Command("flitch", args...)
		c.Env, c.Dir, c.Stdin = env, l.dir, strings.NewReader(in)
		out, _ := c.CombinedOutput() // some are to fail
		said.Write(out)
		looked++
		if names := found(out, secrets); len(names) > 0 {
			t.Errorf("flitch %s prints %v: %s", strings.Join(args, " "), names, out)
		}
		return string(out)
	}
	if out := run("", "check"); !strings.Contains(out, ": no problems") {
		t.Fatalf("check: %s", out)
	}
	run(secrets["password"]+"\n", "password", "T.V.")
	link := run("", "password", "wall", "--guest")
	guest := regexpGuest(t, link)
	secrets["guest link"] = guest // shown this once
	log := marking(t, l, env)
	for _, name := range []string{"hook", "slack", "telegram", "pushover", "matrix", "ntfy", "bark", "mail"} {
		out := run("", "ring", "--channel", name)
		if !strings.Contains(out, "did not take it") {
			t.Errorf("ring %s: %s", name, out)
		}
	}
	for _, args := range [][]string{{"--help"}, {"run", "--help"}, {"password"}, {"backup", "--to", filepath.Join(l.dir, "copies"), "--secrets"}, {"verify", "flitch.db"}, {"check", "--config", "none.toml"}} {
		run("", args...)
	}
	ask := func(method, path, body, token string) string {
		t.Helper()
		r, err := http.NewRequest(method, l.page+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		if token != "" {
			r.Header.Set("Authorization", "Bearer "+token)
		}
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		text, err := io.ReadAll(answer.Body)
		if err != nil {
			t.Fatal(err)
		}
		looked++
		if names := found(text, secrets); len(names) > 0 {
			t.Errorf("%s %s shows %v: %.500s", method, path, names, text)
		}
		return string(text)
	}
	sign := func(password string) string {
		body, _ := json.Marshal(map[string]string{"by": "T.V.", "password": password})
		var got struct{ Token string }
		_ = json.Unmarshal([]byte(ask(http.MethodPost, "/api/sign-in", string(body), "")), &got)
		return got.Token
	}
	token := sign(secrets["password"])
	if token == "" {
		t.Fatal("the right password is wrong")
	}
	for range 7 {
		if sign(secrets["wrong password"]) != "" {
			t.Fatal("a wrong password is right")
		}
	}
	secrets["token"] = token
	ask(http.MethodGet, "/guest/"+guest, "", "")
	ask(http.MethodGet, "/guest/"+guest+"x", "", "")
	ask(http.MethodGet, "/a/"+token, "", "")
	if got := ask(http.MethodPost, "/api/commands", `{"kind":"new","batch":"OL-31-04","by":"T.V.","new":{"plan":"belly-dry-cured","pieces":[{"name":"A","green_g":2268,"thickness_mm":38}],"fridge":"alder","smoker":"old-kettle","cores":{"core-1":"A"}}}`, token); !strings.Contains(got, `"ok":true`) {
		t.Fatalf("no batch: %s", got)
	}
	for _, path := range []string{"/", "/batches", "/batches/OL-31-04", "/batches/OL-31-04/papers", "/alarms", "/probes/core-1", "/phones", "/heard", "/api/batches/OL-31-04", "/api/glance", "/api/alarms", "/api/probes", "/api/phones", "/api/heard", "/metrics", "/healthz",
		"/batches/OL-31-04/record.csv", "/batches/OL-31-04/record.json", "/batches/OL-31-04/record.html", "/batches/OL-31-04/record.pdf", "/batches/OL-31-04/record.xlsx", "/batches/OL-31-04/record.proof", "/none"} {
		if text := ask(http.MethodGet, path, "", token); len(text) == 0 {
			t.Errorf("GET %s: nothing", path)
		}
	}
	for _, password := range []string{secrets["broker"], secrets["wrong password"]} {
		out, _ := exec.Command("mosquitto_pub", "-h", "127.0.0.1", "-p", log.port, "-u", "sensor", "-P", password, "-t", "larder/alder/bottle", "-q", "1", "-m", `{"temperature":3.5}`).CombinedOutput()
		said.Write(out)
	}
	arguments, err := os.ReadFile(fmt.Sprintf("/proc/%d/cmdline", l.daemon.Process.Pid))
	if err != nil {
		t.Fatal(err)
	}
	if err := l.daemon.Process.Signal(syscall.SIGQUIT); err != nil { // it prints what it was at
		t.Fatal(err)
	}
	_ = l.daemon.Wait()
	l.daemon = nil
	text, err := os.ReadFile(log.path)
	if err != nil || !bytes.Contains(text, []byte("goroutine ")) || !bytes.Contains(text, []byte("wrong passwords")) {
		t.Fatalf("the log: %v, %.2000s", err, text)
	}
	own := ownKeys(t, l.dir, secrets)
	for name, text := range map[string][]byte{"the arguments": arguments, "the log": text, "what was printed": []byte(strings.ReplaceAll(said.String(), guest, ""))} {
		looked++
		if names := found(text, secrets); len(names) > 0 {
			t.Errorf("%s: %v", name, names)
		}
		if names := found(text, own); len(names) > 0 {
			t.Errorf("%s: keys %v", name, names)
		}
	}
	looked += searchFiles(t, l.dir, secrets)
	if echoed == 0 || looked < 40 {
		t.Errorf("%d requests to the service, %d texts searched", echoed, looked)
	}
	t.Logf("%d secrets in %d spellings each, %d texts searched, the service was told %d times", len(secrets), len(spellings("12345678")), looked, echoed)
}

// A logged daemon has its log in a file, and a door for sensors.
type logged struct{ path, port string }

func marking(t *testing.T, l *larder, env []string) logged {
	t.Helper()
	path := filepath.Join(t.TempDir(), "log")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	l.daemon = exec.Command("flitch", "run", "--config", filepath.Join(l.dir, "flitch.toml"))
	l.daemon.Env, l.daemon.Stderr = env, file
	out, err := l.daemon.StdoutPipe()
	if err == nil {
		err = l.daemon.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	in := bufio.NewScanner(out)
	for in.Scan() {
		word, at, _ := strings.Cut(in.Text(), " ")
		switch word {
		case "page":
			u, err := url.Parse(at)
			if err != nil {
				t.Fatal(err)
			}
			l.page = "http://127.0.0.1:" + u.Port()
		case "broker":
			return logged{path, at[strings.LastIndexByte(at, ':')+1:]}
		}
	}
	text, _ := os.ReadFile(path)
	t.Fatalf("the daemon does not start: %s", text)
	return logged{}
}

func writeSecret(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
}

func regexpGuest(t *testing.T, out string) string {
	t.Helper()
	_, rest, ok := strings.Cut(out, "/guest/")
	secret, _, line := strings.Cut(rest, "\n")
	if !ok || !line || len(secret) < 20 {
		t.Fatalf("no link in %q", out)
	}
	return secret
}

// ownKeys are the keys that the daemon made for itself.
func ownKeys(t *testing.T, dir string, _ map[string]string) map[string]string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, "flitch.db.*"))
	if err != nil {
		t.Fatal(err)
	}
	keys := map[string]string{}
	for _, path := range files {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if name := filepath.Base(path); strings.HasSuffix(name, ".key") && len(text) >= 16 {
			keys[name] = strings.TrimSpace(string(text))
		}
	}
	if len(keys) == 0 {
		t.Errorf("no key among %q", files)
	}
	return keys
}

// searchFiles looks into every file of the installation and its copies, which nobody but the
// owner may read but for what is to be given away.
func searchFiles(t *testing.T, dir string, secrets map[string]string) (looked int) {
	t.Helper()
	control := 0
	err := filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		info, err := e.Info()
		if err != nil {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		looked++
		names := found(text, secrets)
		if filepath.Base(filepath.Dir(path)) == "secrets" {
			control += len(names)
			return nil
		}
		if len(names) > 0 {
			t.Errorf("%s holds %v", path, names)
		}
		given := e.Name() == "flitch.toml" || strings.HasSuffix(path, ".crt")
		if mode := info.Mode().Perm(); !given && mode&0o077 != 0 {
			t.Errorf("%s may be read by others: %o", path, mode)
		}
		return nil
	})
	if err != nil || control < 10 {
		t.Errorf("the control: %d secrets were found where they belong, %v", control, err)
	}
	return looked
}

// The control of the search: each spelling of a secret is found.
func TestASecretIsFoundInEachSpelling(t *testing.T) {
	secrets := map[string]string{"it": marker("it")}
	raw := []byte(secrets["it"])
	for name, text := range map[string]string{
		"plain": "x" + secrets["it"] + "y", "query": url.Values{"a": {secrets["it"]}}.Encode(), "path": "/" + url.PathEscape(secrets["it"]), "hex": hex.EncodeToString(raw),
		"bytes": fmt.Sprint(raw), "JSON": fmt.Sprintf("%q", secrets["it"]),
		"base64": base64.StdEncoding.EncodeToString(raw), "basic": base64.StdEncoding.EncodeToString(append([]byte("user:"), raw...)), "basic of another": base64.URLEncoding.EncodeToString(append([]byte("abcd:"+"x"), raw...)),
	} {
		if len(found([]byte(text), secrets)) != 1 {
			t.Errorf("%s: not found in %s", name, text)
		}
	}
	if len(found([]byte("nothing of it"), secrets)) != 0 {
		t.Error("found where it is not")
	}
}
