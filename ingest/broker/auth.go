package broker

import (
	"crypto/sha256"
	"crypto/subtle"
	"strings"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"

	"flitch/ingest"
)

// auth decides who may connect and what they may do. The library's own ledger
// compares secrets as plain text, and an empty pattern in it matches anything.
type auth struct {
	mochi.HookBase
	anyone bool // without users, also from other machines
	users  map[string][sha256.Size]byte
	rights *rights
	clock  ingest.Clock
}

// wrongWaits is how long a wrong secret waits for its answer: with the bound on connections
// of one address, guessing is some hundred tries a second at most. Proposal.
const wrongWaits = 500 * time.Millisecond

// hashed keeps the secrets as SHA-256. They are random tokens, not words a person
// would choose: a slow hash would only hold up a dozen sensors that come back at
// once.
func hashed(users map[string]User) map[string][sha256.Size]byte {
	h := make(map[string][sha256.Size]byte, len(users))
	for name, user := range users {
		h[name] = sha256.Sum256([]byte(user.Secret))
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
	if !same || !known {
		<-a.clock.After(wrongWaits)
	}
	return same && known
}

// OnACLCheck keeps clients to their topics, and lets nobody else say what only flitch
// says. A reading that a user may not send is never acknowledged: the library ends the
// connection. What else it may not send is acknowledged and dropped, by OnPublish: a
// sensor that tells of itself where it may not must not lose its connection, and its
// readings, over that.
func (a *auth) OnACLCheck(cl *mochi.Client, topic string, write bool) bool {
	user := string(cl.Properties.Username)
	if !write {
		return a.rights.subscribe(user, topic)
	}
	if strings.HasPrefix(topic, "$") || a.rights.own(topic) {
		return false
	}
	if a.rights.publish(user, topic) || !a.rights.reads(topic) {
		return true
	}
	a.rights.refused(user, topic)
	return false
}
