package broker

import (
	"crypto/sha256"
	"crypto/subtle"
	"strings"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"
)

// auth decides who may connect and what they may do. The library's own ledger
// compares secrets as plain text, and an empty pattern in it matches anything.
type auth struct {
	mochi.HookBase
	anyone bool // without users, also from other machines
	users  map[string][sha256.Size]byte
	isOwn  func(topic string) bool // only we write on it
}

// hashed keeps the secrets as SHA-256. They are random tokens, not words a person
// would choose: a slow hash would only hold up a dozen sensors that come back at
// once.
func hashed(users map[string]string) map[string][sha256.Size]byte {
	h := make(map[string][sha256.Size]byte, len(users))
	for user, secret := range users {
		h[user] = sha256.Sum256([]byte(secret))
	}
	return h
}

func (*auth) ID() string { return "flitch-auth" }

func (*auth) Provides(b byte) bool {
	return b == mochi.OnConnectAuthenticate || b == mochi.OnACLCheck
}

// OnConnectAuthenticate lets known users in, or, when there are none, anyone on
// this machine; anyone at all if the person who set it up said so.
func (a *auth) OnConnectAuthenticate(cl *mochi.Client, pk packets.Packet) bool {
	if len(a.users) == 0 {
		return a.anyone || cl.Net.Conn != nil && isLoopback(cl.Net.Conn.RemoteAddr())
	}
	want, known := a.users[string(pk.Connect.Username)]
	got := sha256.Sum256(pk.Connect.Password)
	same := subtle.ConstantTimeCompare(want[:], got[:]) == 1 // compared for unknown users too
	return same && known
}

// OnACLCheck keeps clients out of the broker's own topics, and lets nobody else
// say what only flitch says.
func (a *auth) OnACLCheck(_ *mochi.Client, topic string, write bool) bool {
	if write && a.isOwn(topic) {
		return false
	}
	return !strings.HasPrefix(topic, "$") || strings.HasPrefix(topic, "$share/")
}
