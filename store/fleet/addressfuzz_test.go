package fleet

import (
	"fmt"
	"strings"
	"testing"
)

// Whatever is given for an address, it is taken or refused, and the password in it is in no
// text that is made of either.
func FuzzAddress(f *testing.F) {
	for _, s := range []string{"postgres://larder:%s@db.lan:5432/flitch?sslmode=verify-full", "postgres://larder:%s@db.lan:x/flitch", "host=db.lan password=%s user=a", "postgresql://%s", "postgres://a:%s@[::1/x?sslmode=odd", "postgres://lar/der:%s@db.lan/flitch?sslmode=verify-full", "postgres:///flitch?user=larder:%s@db.lan", ""} {
		f.Add(s)
	}
	const secret = "mk9-hush-of-the-test"
	f.Fuzz(func(t *testing.T, form string) {
		if strings.Contains(form, secret) {
			return
		}
		at, err := ParseAddress(strings.Replace(form, ":%s@", ":"+secret+"@", 1))
		said := fmt.Sprintf("%v %+v %v", at, at, err)
		if strings.Contains(said, secret) {
			t.Errorf("%q: %s", form, said)
		}
	})
}
