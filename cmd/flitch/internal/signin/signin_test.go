package signin

import (
	"context"
	"crypto/tls"
	"errors"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"flitch/process"
)

var dusk = time.Date(2031, 5, 5, 18, 0, 0, 0, time.UTC)

// a desk with one curer and one reviewer, and a clock that the test moves.
func newDesk(t *testing.T) (*Desk, *time.Time) {
	t.Helper()
	now := dusk
	file := FileOf(filepath.Join(t.TempDir(), "flitch.db"))
	for name, password := range map[string]string{"T.V.": "oak smoke at night", "M.O.": "salt and patience"} {
		if err := file.Set(name, password); err != nil {
			t.Fatal(err)
		}
	}
	roles := map[string]Role{"T.V.": Curer, "M.O.": Reviewer}
	return NewDesk(file, []byte("key of the test, 32 bytes long.."), func(n string) Role { return roles[n] }, func() time.Time { return now }), &now
}

func TestOnlyTheRightPasswordEnters(t *testing.T) {
	d, now := newDesk(t)
	token, ends, err := d.Enter(t.Context(), "T.V.", "oak smoke at night", "10.0.0.2")
	if err != nil || !ends.Equal(dusk.Add(lasts)) {
		t.Fatalf("%v, until %s", err, ends)
	}
	if v, ok := d.Who(token); !ok || v != (Visitor{"T.V.", Curer}) {
		t.Errorf("%+v %v", v, ok)
	}
	for _, wrong := range [][2]string{{"T.V.", "oak smoke at noon"}, {"T.V.", ""}, {"M.O.", "oak smoke at night"}, {"X.X.", "oak smoke at night"}, {"T.V.", strings.Repeat("x", 5000)}} {
		if _, _, err := d.Enter(t.Context(), wrong[0], wrong[1], "10.0.0.3"); err == nil {
			t.Errorf("%q entered", wrong)
		}
	}
	*now = ends
	if _, ok := d.Who(token); ok {
		t.Error("a token of two months ago is still one")
	}
}

// Nobody makes a token, and a changed password, or a person who left, ends those made.
func TestTokensCannotBeMadeAndEnd(t *testing.T) {
	d, _ := newDesk(t)
	token, _, err := d.Enter(t.Context(), "M.O.", "salt and patience", "10.0.0.2")
	if err != nil {
		t.Fatal(err)
	}
	for i := range token {
		bent := []byte(token)
		bent[i] ^= 1
		if _, ok := d.Who(string(bent)); ok {
			t.Errorf("byte %d may be changed", i)
		}
	}
	other := NewDesk(d.File, []byte("another key"), d.Roles, d.Now)
	for _, bad := range []string{"", ".", "a.b", token + ".x", strings.Repeat("a", 300) + "." + strings.Repeat("b", 300)} {
		if _, ok := d.Who(bad); ok {
			t.Errorf("%.20q is a token", bad)
		}
	}
	if _, ok := other.Who(token); ok {
		t.Error("a token of another installation is one here")
	}
	if err := d.File.Set("M.O.", "another password"); err != nil {
		t.Fatal(err)
	}
	if _, ok := d.Who(token); ok {
		t.Error("the old password's token is still one")
	}
	token, _, err = d.Enter(t.Context(), "M.O.", "another password", "10.0.0.2")
	if err != nil {
		t.Fatal(err)
	}
	d.Roles = func(string) Role { return "" } // no longer a person of the house
	if _, ok := d.Who(token); ok {
		t.Error("somebody who left is still in")
	}
}

func TestAGuestLinkLooksAndIsTakenBack(t *testing.T) {
	d, _ := newDesk(t)
	secret, err := d.File.NewGuest("wall", dusk.Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	token, _, err := d.Admit(secret, "10.0.0.9")
	if v, ok := d.Who(token); err != nil || !ok || v != (Visitor{"wall", Guest}) {
		t.Fatalf("%+v %v %v", v, ok, err)
	}
	if _, _, err := d.Admit(secret+"x", "10.0.0.9"); !errors.Is(err, ErrWrong) {
		t.Errorf("%v", err)
	}
	if _, _, err := d.Enter(t.Context(), "wall", secret, "10.0.0.9"); err == nil {
		t.Error("a guest signs in with the secret of the link")
	}
	text, err := os.ReadFile(d.File.Path)
	if err != nil || strings.Contains(string(text), secret) || strings.Contains(string(text), "patience") {
		t.Errorf("the file holds what it should not: %v", err)
	}
	if ok, err := d.File.Remove("wall"); !ok || err != nil {
		t.Fatal(ok, err)
	}
	if _, ok := d.Who(token); ok {
		t.Error("the link was taken back and still lets in")
	}
	if info, err := os.Stat(d.File.Path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
}

func TestBadPasswordsAreRefused(t *testing.T) {
	d, _ := newDesk(t)
	for _, bad := range [][2]string{{"T.V.", "short"}, {"T.V.", strings.Repeat("x", 201)}, {"", "long enough"}, {" T", "long enough"}, {"T\tV", "long enough"}, {"too long name", "long enough"}} {
		if err := d.File.Set(bad[0], bad[1]); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
	if _, err := d.File.NewGuest("T.V.", dusk); err == nil {
		t.Error("a guest link replaced a person")
	}
	people, guests, err := d.File.Names()
	if err != nil || strings.Join(people, " ") != "M.O. T.V." || len(guests) != 0 {
		t.Errorf("%q %q %v", people, guests, err)
	}
}

// Guessing is slowed down, by address and by name; the right password is not looked at
// while somebody has to wait, and waiting has an end.
func TestGuessingIsSlowedDown(t *testing.T) {
	d, now := newDesk(t)
	guess := func(name, from string) error {
		_, _, err := d.Enter(t.Context(), name, "a wrong guess", from)
		return err
	}
	for i := range freeTries {
		if err := guess("T.V.", "10.0.0.66"); !errors.Is(err, ErrWrong) {
			t.Fatalf("try %d: %v", i, err)
		}
	}
	var many *TooMany
	if err := guess("M.O.", "10.0.0.66"); !errors.As(err, &many) || many.Wait != firstWait {
		t.Errorf("by address: %v", err)
	}
	if _, _, err := d.Enter(t.Context(), "T.V.", "oak smoke at night", "10.0.0.2"); !errors.As(err, &many) {
		t.Errorf("by name: %v", err)
	}
	for range 20 {
		*now = now.Add(longestOut)
		if err := guess("T.V.", "10.0.0.66"); !errors.Is(err, ErrWrong) {
			t.Fatalf("after the longest wait: %v", err)
		}
	}
	if err := guess("T.V.", "10.0.0.66"); !errors.As(err, &many) || many.Wait != longestOut {
		t.Errorf("%v", err)
	}
	*now = now.Add(longestOut)
	if _, _, err := d.Enter(t.Context(), "T.V.", "oak smoke at night", "10.0.0.2"); err != nil {
		t.Errorf("after the wait: %v", err)
	}
	for i := range 3 * mostTries {
		d.tries.failed(*now, subject{from: strings.Repeat("x", i)})
	}
	if n := len(d.tries.last); n > mostTries+2 {
		t.Errorf("%d remembered", n)
	}
}

// Many tries at the same moment are no more tries than one after the other.
func TestGuessingAtOnceIsSlowedDownToo(t *testing.T) {
	d, _ := newDesk(t)
	var looked atomic.Int64
	var all sync.WaitGroup
	for range 40 {
		all.Go(func() {
			if _, _, err := d.Enter(context.Background(), "T.V.", "a wrong guess", "10.0.0.66"); errors.Is(err, ErrWrong) {
				looked.Add(1)
			}
		})
	}
	all.Wait()
	if n := looked.Load(); n != freeTries {
		t.Errorf("%d of 40 passwords were looked at, want %d", n, freeTries)
	}
}

// Behind a server that speaks https the cookie is bound to it as well; by https nothing but
// the bound one is taken.
func TestTheCookieIsBoundToHTTPS(t *testing.T) {
	for _, c := range []struct {
		header, value string
		tls, secure   bool
	}{{"", "", false, false}, {"", "", true, true}, {"X-Forwarded-Proto", "https", false, true}, {"Origin", "https://smokehouse.lan", false, true}, {"Origin", "http://smokehouse.lan", false, false}} {
		r := httptest.NewRequest(http.MethodPost, "/sign-in", nil)
		if c.header != "" {
			r.Header.Set(c.header, c.value)
		}
		if c.tls {
			r.TLS = &tls.ConnectionState{}
		}
		k := Cookie(r, "token", lasts)
		if k.Secure != c.secure || strings.HasPrefix(k.Name, "__Host-") != c.secure || !k.HttpOnly || k.SameSite != http.SameSiteStrictMode || k.Path != "/" || k.Domain != "" {
			t.Errorf("%+v: cookie %+v", c, k)
		}
		next := httptest.NewRequest(http.MethodGet, "/", nil)
		next.TLS = r.TLS
		next.AddCookie(k)
		if Token(next) != "token" {
			t.Errorf("%+v: the cookie is not taken back", c)
		}
	}
	bent := httptest.NewRequest(http.MethodGet, "/", nil)
	bent.TLS = &tls.ConnectionState{}
	bent.AddCookie(&http.Cookie{Name: plainCookie, Value: "token"})
	if Token(bent) != "" {
		t.Error("by https a cookie is taken that anybody in the network can set")
	}
}

func TestOneHashAtATime(t *testing.T) {
	d, _ := newDesk(t)
	d.one <- struct{}{} // somebody is at it
	over, stop := context.WithCancel(t.Context())
	stop()
	if _, _, err := d.Enter(over, "T.V.", "oak smoke at night", "10.0.0.2"); !errors.Is(err, ErrBusy) {
		t.Errorf("%v", err)
	}
}

func TestNobodySignsForAnother(t *testing.T) {
	if by, err := Sign(t.Context(), "T.V."); by != "T.V." || err != nil {
		t.Errorf("where nobody signs in: %q %v", by, err)
	}
	in := With(t.Context(), Visitor{"M.O.", Reviewer})
	for _, typed := range []string{"", "M.O."} {
		if by, err := Sign(in, typed); by != "M.O." || err != nil {
			t.Errorf("%q %v", by, err)
		}
	}
	_, err := Sign(in, "T.V.")
	if no, ok := errors.AsType[*process.Refusal](err); !ok || no.What == "" {
		t.Errorf("%v", err)
	}
}
