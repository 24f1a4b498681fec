package signin

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"

	"flitch/cmd/flitch/internal/keyfile"
)

// cost of a password: 19 MiB, two passes, one thread, the second of the settings that
// the OWASP cheat sheet on password storage lists for argon2id (from memory). About
// 30 ms on a desk machine; a small board has the memory for one at a time.
var cost = argon2id.Params{Memory: 19 << 10, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// Bounds of a password, in bytes. At least 8: NIST SP 800-63B, 5.1.1.1 (from memory);
// at most: own bound.
const (
	leastPassword = 8
	mostPassword  = 200
)

// guestKind is how the line of a guest link begins; after the sum stands until when it is
// good, in seconds since 1970. Links of before that was written have no end.
const (
	guestKind  = "guest sha256:"
	guestUntil = " until "
)

// A File holds the passwords and guest links of one installation: a line each, name,
// tab, hash.
type File struct{ Path string }

// FileOf is where they lie.
func FileOf(database string) File { return File{database + ".passwords"} }

// Set gives a person a password, new or another.
func (f File) Set(initials, password string) error {
	switch {
	case !isName(initials):
		return fmt.Errorf("%q cannot be initials: at most 8 characters, no spaces at the ends", initials)
	case len(password) < leastPassword:
		return fmt.Errorf("the password has fewer than %d characters: take a few words", leastPassword)
	case len(password) > mostPassword:
		return fmt.Errorf("the password has more than %d characters", mostPassword)
	}
	hash, err := argon2id.CreateHash(password, &cost)
	if err != nil {
		return fmt.Errorf("hashing the password: %w", err)
	}
	return f.put(initials, hash)
}

// NewGuest makes a link under a name, good until a time, and returns the secret in it.
// Whoever has the link may look and change nothing.
func (f File) NewGuest(name string, ends time.Time) (secret string, err error) {
	if !isName(name) {
		return "", fmt.Errorf("%q cannot be the name of a guest link: at most 8 characters, no spaces at the ends", name)
	}
	if line := f.line(name); line != "" && !isGuest(line) {
		return "", fmt.Errorf("%s is a person who signs in: take another name for the link", name)
	}
	secret = rand.Text()
	return secret, f.put(name, guestKind+sumOf(secret)+guestUntil+strconv.FormatInt(ends.Unix(), 10))
}

// Remove takes a person's password or a guest link away. ok is false when there was none.
func (f File) Remove(name string) (ok bool, err error) {
	all, err := f.read()
	if _, ok = all[name]; err != nil || !ok {
		return false, err
	}
	delete(all, name)
	return true, f.write(all)
}

// Names lists who can sign in, and which guest links there are.
func (f File) Names() (people, guests []string, err error) {
	all, err := f.read()
	for _, name := range slices.Sorted(maps.Keys(all)) {
		if isGuest(all[name]) {
			guests = append(guests, name)
		} else {
			people = append(people, name)
		}
	}
	return people, guests, err
}

// matches reports whether the password is that of the person. Who has none costs the
// same time as a wrong one, so that time does not tell who has.
func (f File) matches(initials, password string) bool {
	hash := f.line(initials)
	if hash == "" || isGuest(hash) {
		_, _ = argon2id.CreateHash(password, &cost) // only for the time it takes
		return false
	}
	ok, err := argon2id.ComparePasswordAndHash(password, hash)
	return ok && err == nil
}

// guest returns the name of the link with that secret, whether or not it has ended.
func (f File) guest(secret string) (name string, ok bool) {
	all, err := f.read()
	if err != nil {
		return "", false
	}
	sum := []byte(guestKind + sumOf(secret))
	for _, n := range slices.Sorted(maps.Keys(all)) {
		line, _, _ := strings.Cut(all[n], guestUntil)
		if subtle.ConstantTimeCompare([]byte(line), sum) == 1 {
			return n, true
		}
	}
	return "", false
}

// line returns what stands beside a name; "" when nothing does.
func (f File) line(name string) string {
	all, err := f.read()
	if err != nil {
		return ""
	}
	return all[name]
}

// Ends is until when a guest link is good; zero: without an end.
func (f File) Ends(name string) time.Time { return endOf(f.line(name)) }

// endOf is the end in the line of a guest link. One that cannot be read is long past.
func endOf(line string) time.Time {
	_, until, dated := strings.Cut(line, guestUntil)
	if !isGuest(line) || !dated {
		return time.Time{}
	}
	seconds, err := strconv.ParseInt(until, 10, 64)
	if err != nil {
		seconds = 0
	}
	return time.Unix(seconds, 0)
}

// isOver reports whether a line is that of a guest link that has ended.
func isOver(line string, now time.Time) bool {
	ends := endOf(line)
	return !ends.IsZero() && !now.Before(ends)
}

func isGuest(line string) bool { return strings.HasPrefix(line, guestKind) }

func sumOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

func (f File) put(name, line string) error {
	all, err := f.read()
	if err != nil {
		return err
	}
	all[name] = line
	return f.write(all)
}

// read returns every line by its name; none when there is no file yet.
func (f File) read() (map[string]string, error) {
	all := map[string]string{}
	text, err := os.ReadFile(f.Path)
	if errors.Is(err, fs.ErrNotExist) {
		return all, nil
	}
	if err != nil {
		return nil, err
	}
	for line := range strings.Lines(string(text)) {
		if name, hash, ok := strings.Cut(strings.TrimSpace(line), "\t"); ok {
			all[name] = hash
		}
	}
	return all, nil
}

func (f File) write(all map[string]string) error {
	var b strings.Builder
	for _, name := range slices.Sorted(maps.Keys(all)) {
		fmt.Fprintf(&b, "%s\t%s\n", name, all[name])
	}
	return keyfile.Write(f.Path, []byte(b.String()), 0o600)
}

// isName reports whether a name can stand in a line and in a form.
func isName(name string) bool {
	odd := func(r rune) bool { return !unicode.IsPrint(r) }
	return name != "" && strings.TrimSpace(name) == name && utf8.RuneCountInString(name) <= 8 && !strings.ContainsFunc(name, odd)
}
