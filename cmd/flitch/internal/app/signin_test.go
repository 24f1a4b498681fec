package app

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/signin"
	"flitch/process"
)

// signedShop is a shop whose page is reached from other machines: a curer, a reviewer
// and a screen on the wall.
func signedShop(t *testing.T) (s *shop, guest string) {
	t.Helper()
	s = newShop(t)
	s.cfg.Page.SignIn = true
	s.cfg.Persons = []config.Person{{Name: "Tamsin Vale", Initials: "T.V.", Channels: []string{"phone"}, Role: "curer"},
		{Name: "Marta Oldroyd", Initials: "M.O.", Channels: []string{"phone"}, Role: "reviewer"}}
	file := signin.FileOf(s.cfg.Site.Database)
	for name, password := range map[string]string{"T.V.": "oak smoke at night", "M.O.": "salt and patience"} {
		if err := file.Set(name, password); err != nil {
			t.Fatal(err)
		}
	}
	guest, err := file.NewGuest("wall", time.Now().Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	s.open()
	s.begin(raw)
	return s, guest
}

// A browser that keeps cookies and follows redirects as a person's does.
type visitor struct {
	s      *shop
	client *http.Client
}

func (s *shop) visitor() visitor {
	jar, err := cookiejar.New(nil)
	if err != nil {
		s.t.Fatal(err)
	}
	return visitor{s, &http.Client{Jar: jar}}
}

// ask returns the answer's status, the path it came from in the end, and its text.
func (v visitor) ask(method, path string, form url.Values) (status int, at, text string) {
	v.s.t.Helper()
	r, err := http.NewRequest(method, v.s.app.Address()+path, strings.NewReader(form.Encode()))
	if err != nil {
		v.s.t.Fatal(err)
	}
	r.Header.Set("Accept", "text/html")
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	answer, err := v.client.Do(r)
	if err != nil {
		v.s.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		v.s.t.Fatal(err)
	}
	return answer.StatusCode, answer.Request.URL.Path, string(body)
}

func (v visitor) enter(by, password string) {
	v.s.t.Helper()
	if status, at, text := v.ask(http.MethodPost, "/sign-in", url.Values{"by": {by}, "password": {password}, "to": {"/batches"}}); status != http.StatusOK || at != "/batches" {
		v.s.t.Fatalf("%s was not let in: %d at %s: %s", by, status, at, text)
	}
}

// Where other machines reach the page, nothing is shown and nothing is changed before
// somebody has signed in; signs of life are for everybody.
func TestNobodyGetsInWithoutSigningIn(t *testing.T) {
	s, _ := signedShop(t)
	v := s.visitor()
	for _, path := range []string{"/", "/batches", "/batches/" + s.batch().ID, "/heard", "/phones"} {
		if status, at, text := v.ask(http.MethodGet, path, nil); status != http.StatusOK || at != "/sign-in" || strings.Contains(text, s.batch().ID) && path != "/batches/"+s.batch().ID {
			t.Errorf("GET %s: %d at %s", path, status, at)
		}
	}
	for _, path := range []string{"/api/batches", "/api/glance", "/api/events", "/metrics", "/batches/" + s.batch().ID + "/record.csv"} {
		answer, err := http.Get(s.app.Address() + path)
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if answer.StatusCode != http.StatusUnauthorized {
			t.Errorf("GET %s: %d", path, answer.StatusCode)
		}
	}
	before, err := s.app.db.Counts()
	if err != nil {
		t.Fatal(err)
	}
	for path, form := range map[string]url.Values{"/turned": {"batch": {s.batch().ID}, "by": {"T.V."}}, "/phones/remove": {"phone": {"1"}, "by": {"T.V."}}, "/heard": {"name": {"x"}, "by": {"T.V."}}} {
		if status, _, _ := v.ask(http.MethodPost, path, form); status != http.StatusUnauthorized {
			t.Errorf("POST %s: %d", path, status)
		}
	}
	after, err := s.app.db.Counts()
	if err != nil || before != after {
		t.Errorf("before %+v, after %+v, %v", before, after, err)
	}
	if status, _, _ := v.ask(http.MethodGet, "/healthz", nil); status != http.StatusOK {
		t.Errorf("/healthz: %d", status)
	}
	if status, _, text := v.ask(http.MethodPost, "/sign-in", url.Values{"by": {"T.V."}, "password": {"wrong wrong"}}); status != http.StatusUnauthorized || !strings.Contains(text, "are wrong") {
		t.Errorf("a wrong password: %d", status)
	}
}

// Who has signed in signs everything, and nobody signs for another.
func TestWhoSignedInSigns(t *testing.T) {
	s, _ := signedShop(t)
	id := s.batch().ID
	curer := s.visitor()
	curer.enter("T.V.", "oak smoke at night")
	if status, at, text := curer.ask(http.MethodPost, "/turned", url.Values{"batch": {id}, "by": {"T.V."}}); status != http.StatusOK || at != "/batches/"+id {
		t.Errorf("turned: %d at %s: %s", status, at, text)
	}
	if status, _, text := curer.ask(http.MethodPost, "/note", url.Values{"batch": {id}, "by": {"M.O."}, "text": {"smells right"}}); status != http.StatusUnprocessableEntity || !strings.Contains(text, "T.V. is signed in") {
		t.Errorf("for another: %d", status)
	}
	if status, at, _ := curer.ask(http.MethodPost, "/sign-out", url.Values{}); status != http.StatusOK || at != "/sign-in" {
		t.Errorf("sign-out: %d at %s", status, at)
	}
	if _, at, _ := curer.ask(http.MethodGet, "/batches", nil); at != "/sign-in" {
		t.Errorf("after the sign-out: %s", at)
	}
}

func TestAReviewerAndAGuestMayLess(t *testing.T) {
	s, guest := signedShop(t)
	id := s.batch().ID
	reviewer := s.visitor()
	reviewer.enter("M.O.", "salt and patience")
	if status, _, _ := reviewer.ask(http.MethodPost, "/note", url.Values{"batch": {id}, "by": {"M.O."}, "text": {"looked at"}}); status != http.StatusOK {
		t.Errorf("a reviewer's note: %d", status)
	}
	for path, form := range map[string]url.Values{"/turned": {"batch": {id}, "by": {"M.O."}}, "/heard": {"name": {"x"}, "by": {"M.O."}}} {
		if status, _, text := reviewer.ask(http.MethodPost, path, form); status != http.StatusUnprocessableEntity || !strings.Contains(text, "reviewer") {
			t.Errorf("a reviewer's %s: %d", path, status)
		}
	}
	wall := s.visitor()
	if status, _, text := wall.ask(http.MethodGet, "/guest/"+guest, nil); status != http.StatusOK || !strings.Contains(text, id) || !strings.Contains(text, `class="guest"`) {
		t.Errorf("the screen on the wall: %d", status)
	}
	for path, method := range map[string]string{"/note": http.MethodPost, "/acknowledge": http.MethodPost, "/api/commands": http.MethodPost, "/heard": http.MethodGet, "/phones": http.MethodGet,
		"/batches/" + id + "/cost": http.MethodGet, "/batches/" + id + "/record.html?for=self": http.MethodGet, "/batches/" + id + "/record.proof": http.MethodGet} {
		if status, _, _ := wall.ask(method, path, url.Values{"batch": {id}, "by": {"wall"}, "text": {"x"}}); status != http.StatusForbidden {
			t.Errorf("a guest's %s: %d", path, status)
		}
	}
	if status, _, _ := s.visitor().ask(http.MethodGet, "/guest/"+guest+"x", nil); status != http.StatusUnauthorized {
		t.Errorf("a wrong link: %d", status)
	}
	lines, err := s.app.db.Journal(id)
	if err != nil || !strings.Contains(fmt.Sprintf("%+v", lines), "looked at") {
		t.Errorf("the journal says %+v, %v", lines, err)
	}
}

// The sign-in never leads to another site, and its cookie is out of reach of scripts
// and other sites.
func TestTheSignInIsTight(t *testing.T) {
	s, _ := signedShop(t)
	stay := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	for _, to := range []string{"https://elsewhere.example/", "//elsewhere.example", `/\elsewhere.example`, "javascript:1", "/\t/elsewhere.example", "/\n/elsewhere.example", "/%5C%5Celsewhere.example/../..//elsewhere.example\t", "\t//elsewhere.example"} {
		answer, err := stay.PostForm(s.app.Address()+"/sign-in", url.Values{"by": {"T.V."}, "password": {"oak smoke at night"}, "to": {to}})
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if at := answer.Header.Get("Location"); at != "/" {
			t.Errorf("%s leads to %s", to, at)
		}
		for _, c := range answer.Cookies() {
			if c.Name == "flitch" && (!c.HttpOnly || c.SameSite != http.SameSiteStrictMode) {
				t.Errorf("cookie %+v", c)
			}
		}
	}
	foreign, err := http.NewRequest(http.MethodPost, s.app.Address()+"/sign-in", strings.NewReader("by=T.V.&password=oak+smoke+at+night"))
	if err != nil {
		t.Fatal(err)
	}
	foreign.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	foreign.Header.Set("Sec-Fetch-Site", "cross-site")
	answer, err := stay.Do(foreign)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	if answer.StatusCode != http.StatusForbidden || len(answer.Cookies()) > 0 {
		t.Errorf("from another site: %d", answer.StatusCode)
	}
}

// Commands carry a token.
func TestCommandsSignIn(t *testing.T) {
	s, _ := signedShop(t)
	post := func(path, token string, body any) (status int, text string) {
		t.Helper()
		b, err := json.Marshal(body)
		if err != nil {
			t.Fatal(err)
		}
		return s.askAs(token, http.MethodPost, path, b)
	}
	status, text := post("/api/sign-in", "", map[string]string{"by": "T.V.", "password": "oak smoke at night"})
	var in struct{ Token string }
	if err := json.Unmarshal([]byte(text), &in); err != nil || status != http.StatusOK || in.Token == "" {
		t.Fatalf("%d %s", status, text)
	}
	turned := map[string]any{"kind": process.CommandTurned, "batch": s.batch().ID, "by": "T.V."}
	for token, want := range map[string]int{in.Token: http.StatusOK, "": http.StatusUnauthorized, in.Token + "x": http.StatusUnauthorized} {
		if status, text := post("/api/commands", token, turned); status != want {
			t.Errorf("token %.8q: %d %s", token, status, text)
		}
	}
	for range 6 {
		status, _ = post("/api/sign-in", "", map[string]string{"by": "T.V.", "password": "guess guess"})
	}
	if status != http.StatusTooManyRequests {
		t.Errorf("the sixth guess: %d", status)
	}
}

// A file of passwords that the daemon cannot read is nobody's wrong password, and health says so.
func TestAFileOfPasswordsThatCannotBeReadIsTold(t *testing.T) {
	s, _ := signedShop(t)
	path := signin.FileOf(s.cfg.Site.Database).Path
	if err := os.Rename(path, path+".away"); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(path, 0o700); err != nil {
		t.Fatal(err)
	}
	status, _, text := s.visitor().ask(http.MethodPost, "/sign-in", url.Values{"by": {"T.V."}, "password": {"oak smoke at night"}})
	if status != http.StatusServiceUnavailable || !strings.Contains(text, "the file of passwords cannot be read") {
		t.Errorf("%d %s", status, text)
	}
	if status, _, text := s.visitor().ask(http.MethodGet, "/healthz", nil); status != http.StatusServiceUnavailable || !strings.Contains(text, "nobody can sign in") {
		t.Errorf("health: %d %s", status, text)
	}
}

// A Prometheus reads the numbers with the secret of a guest link, and nothing else by it alone.
func TestAGuestLinkReadsTheNumbers(t *testing.T) {
	s, guest := signedShop(t)
	ask := func(path, token string) int {
		t.Helper()
		status, _ := s.askAs(token, http.MethodGet, path, nil)
		return status
	}
	for _, c := range []struct {
		path, token string
		want        int
	}{{"/metrics", guest, 200}, {"/metrics", "nonsense", 401}, {"/metrics", "", 401}, {"/api/batches", guest, 401}} {
		if got := ask(c.path, c.token); got != c.want {
			t.Errorf("%s with %q: %d, want %d", c.path, c.token, got, c.want)
		}
	}
	if _, err := signin.FileOf(s.cfg.Site.Database).Remove("wall"); err != nil {
		t.Fatal(err)
	}
	if got := ask("/metrics", guest); got != 401 {
		t.Errorf("/metrics when the link was taken back: %d", got)
	}
}
