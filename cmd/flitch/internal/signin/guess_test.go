package signin

import (
	"errors"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"
)

// However many addresses somebody guesses from, a person's password is tried five times and
// then a few times an hour; strangers' names do not make the house forget that.
func TestGuessingFromEverywhereIsSlowedDown(t *testing.T) {
	d, now := newDesk(t)
	var told []string
	d.Guessed = func(name string, wrong int, from string) {
		told = append(told, fmt.Sprintf("%s %d %s", name, wrong, from))
	}
	looked, sent := 0, 0
	for hour := range 3 {
		for i := range 360 { // a try every ten seconds, each from elsewhere
			sent++
			if _, _, err := d.Enter(t.Context(), "T.V.", "a wrong guess", fmt.Sprintf("10.%d.%d.1", hour, i)); errors.Is(err, ErrWrong) {
				looked++
			}
			if i%60 == 0 { // strangers' names, as many as are remembered
				for n := range mostTries {
					d.tries.failed(*now, subject{from: fmt.Sprint("x", n), name: fmt.Sprint("n", n)})
				}
			}
			*now = now.Add(10 * time.Second)
		}
	}
	if looked > freeTries+7+12 { // while the wait doubles, and then four an hour
		t.Errorf("%d of %d guesses were looked at", looked, sent)
	}
	if looked <= freeTries {
		t.Errorf("the control: only %d were looked at", looked)
	}
	if len(told) < 2 || !strings.HasPrefix(told[0], "T.V. 5 ") || !strings.HasPrefix(told[1], "T.V. 10 ") || len(told) > 4 {
		t.Errorf("told %q", told)
	}
	t.Logf("%d guesses, %d looked at", sent, looked)
}

// Meanwhile the owner gets in on a browser that signed in before, and at once with a new
// password, which is set at the machine. A stolen token of that kind has tries of its own.
func TestTheOwnerIsNotLockedOut(t *testing.T) {
	d, now := newDesk(t)
	known := d.Known("T.V.")
	for range 50 {
		_, _, _ = d.Enter(t.Context(), "T.V.", "a wrong guess", "10.0.0.2")
		*now = now.Add(time.Second)
	}
	var many *TooMany
	if _, _, err := d.Enter(t.Context(), "T.V.", "oak smoke at night", "10.0.0.2"); !errors.As(err, &many) {
		t.Fatalf("the control: %v", err)
	}
	if _, _, err := d.EnterKnown(t.Context(), "T.V.", "oak smoke at night", "10.0.0.2", known); err != nil {
		t.Errorf("on the known browser: %v", err)
	}
	for name, odd := range map[string]string{"of another person": d.Known("M.O."), "bent": known + "A", "of another key": NewDesk(d.File, []byte("another key"), d.Roles, d.Now).Known("T.V."), "a token of a sign-in": d.token("T.V.", now.Add(time.Hour))} {
		if _, _, err := d.EnterKnown(t.Context(), "T.V.", "oak smoke at night", "10.0.0.2", odd); !errors.As(err, &many) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, ok := d.Who(known); ok {
		t.Error("the token of a known browser lets in by itself")
	}
	for range freeTries {
		if _, _, err := d.EnterKnown(t.Context(), "T.V.", "a wrong guess", "10.0.0.9", known); !errors.Is(err, ErrWrong) {
			t.Errorf("%v", err)
		}
	}
	if _, _, err := d.EnterKnown(t.Context(), "T.V.", "a wrong guess", "10.0.0.10", known); !errors.As(err, &many) {
		t.Errorf("a stolen one tries for ever: %v", err)
	}
	if err := d.File.Set("T.V.", "set at the machine"); err != nil {
		t.Fatal(err)
	}
	if _, _, err := d.Enter(t.Context(), "T.V.", "set at the machine", "10.0.0.77"); err != nil {
		t.Errorf("after a new password: %v", err)
	}
}

// A name that nobody has costs the same work as one with a wrong password, is told the same,
// and has to wait the same.
func TestUnknownNamesLookLikeKnownOnes(t *testing.T) {
	d, now := newDesk(t)
	work := func(name, from string) (bytes uint64, said string) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, _, err := d.Enter(t.Context(), name, "a wrong guess", from)
		runtime.ReadMemStats(&after)
		return after.TotalAlloc - before.TotalAlloc, err.Error()
	}
	for i := range freeTries + 2 {
		known, saidKnown := work("T.V.", "10.0.1.1")
		unknown, saidUnknown := work("X.X.", "10.0.2.1")
		if saidKnown != saidUnknown {
			t.Errorf("try %d: %q and %q", i, saidKnown, saidUnknown)
		}
		full := uint64(cost.Memory) << 10
		if i < freeTries && (known < full || unknown < full) {
			t.Errorf("try %d: %d and %d bytes of work, a hash has %d", i, known, unknown, full)
		}
	}
	*now = now.Add(time.Hour)
}

// A guest link ends, and whoever came in by it with it.
func TestAGuestLinkEnds(t *testing.T) {
	d, now := newDesk(t)
	ends := dusk.Add(48 * time.Hour)
	secret, err := d.File.NewGuest("wall", ends)
	if err != nil {
		t.Fatal(err)
	}
	token, until, err := d.Admit(secret, "10.0.0.9")
	if err != nil || !until.Equal(ends) {
		t.Fatalf("good until %s, %v", until, err)
	}
	*now = ends.Add(-time.Second)
	if _, ok := d.Who(token); !ok {
		t.Error("out before the end")
	}
	*now = ends
	if _, ok := d.Who(token); ok {
		t.Error("in after the end")
	}
	if _, _, err := d.Admit(secret, "10.0.0.9"); !errors.Is(err, ErrWrong) {
		t.Errorf("a link that has ended: %v", err)
	}
	if err := d.File.put("old", guestKind+sumOf("before ends were written")); err != nil {
		t.Fatal(err)
	}
	if _, _, err := d.Admit("before ends were written", "10.0.0.11"); err != nil {
		t.Errorf("a link of before: %v", err)
	}
	if err := d.File.put("odd", guestKind+sumOf("odd")+guestUntil+"soon"); err != nil {
		t.Fatal(err)
	}
	if _, _, err := d.Admit("odd", "10.0.0.12"); !errors.Is(err, ErrWrong) {
		t.Errorf("a link whose end cannot be read: %v", err)
	}
}

// Tokens, those of browsers, the secrets of links: whatever is made up is none.
func FuzzTokens(f *testing.F) {
	d := NewDesk(File{f.TempDir() + "/none"}, []byte("key of the test, 32 bytes long.."), func(string) Role { return Curer }, func() time.Time { return dusk })
	const secret = "the same in each process of the fuzzer"
	if err := d.File.put("wall", guestKind+sumOf(secret)+guestUntil+"2000000000"); err != nil {
		f.Fatal(err)
	}
	token, _, err := d.Admit(secret, "10.0.0.1")
	if err != nil {
		f.Fatal(err)
	}
	known := d.knownAs("T.V.", "the same too")
	f.Add(token)
	f.Add(known)
	f.Add(secret)
	f.Add(token + "\r\n") // line ends are nothing to the decoder
	f.Add(known[:9] + "\n" + known[9:])
	f.Add("a.b")
	f.Fuzz(func(t *testing.T, s string) {
		if v, ok := d.Who(s); ok && s != token {
			t.Errorf("%q is a token of %+v", s, v)
		}
		if d.isKnown(s, "T.V.") && s != known {
			t.Errorf("%q is a known browser", s)
		}
		if name, ok := d.File.guest(s); ok && s != secret {
			t.Errorf("%q is the link of %s", s, name)
		}
	})
}

// The lines of the file of passwords, whatever somebody wrote into it, are read or passed over.
func FuzzLines(f *testing.F) {
	f.Add("wall\tguest sha256:00 until 5\nT.V.\t$argon2id$v=19$m=19456,t=2,p=1$AAAA$AAAA\n")
	f.Add("\t\n\x00\t\nno tab")
	f.Fuzz(func(t *testing.T, text string) {
		for line := range strings.Lines(text) {
			_, hash, _ := strings.Cut(strings.TrimSpace(line), "\t")
			if isOver(hash, dusk) && !isGuest(hash) {
				t.Errorf("%q", hash)
			}
			_ = mark(hash)
		}
	})
}
