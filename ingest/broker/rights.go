package broker

import (
	"log/slog"
	"strings"
	"sync"

	"flitch/ingest"
)

// A User may connect by its secret, and use the topics that its filters name (MQTT
// 3.1.1, 4.7).
type User struct {
	Secret string
	// Publish are filters of what it may send. Nil: every topic that is in no list of
	// another user. Empty: none.
	Publish []string
	// Subscribe are filters of what it may hear. Nil: everything. Empty: nothing.
	Subscribe []string
}

// rights are who may use which topic.
type rights struct {
	users map[string]User // without their secrets; empty: nobody signs in, and anyone may
	own   func(topic string) bool
	reads func(topic string) bool
	log   *slog.Logger

	mu   sync.Mutex
	told map[string]bool // refusals that were logged, by user and topic
	once sync.Once
}

func newRights(conf Config, intake ingest.Submitter, log *slog.Logger) *rights {
	r := &rights{users: map[string]User{}, own: conf.isOwn, reads: intake.Reads, log: log, told: map[string]bool{}}
	for name, u := range conf.Users {
		u.Secret = ""
		r.users[name] = u
	}
	return r
}

// publish reports whether a user may send on a topic. What is in the list of some user
// is that user's: a sensor must not speak for the probe of another.
func (r *rights) publish(user, topic string) bool {
	if r.own(topic) {
		return false
	}
	if len(r.users) == 0 {
		return true
	}
	if list := r.users[user].Publish; list != nil {
		return coveredBy(list, topic)
	}
	for _, other := range r.users {
		if coveredBy(other.Publish, topic) {
			return false
		}
	}
	return true
}

// subscribe reports whether a user may hear all that a filter, or a topic, stands for.
func (r *rights) subscribe(user, filter string) bool {
	if shared, ok := strings.CutPrefix(filter, "$share/"); ok {
		_, filter, _ = strings.Cut(shared, "/")
	}
	if strings.HasPrefix(filter, "$") {
		return false // the broker's own
	}
	list := r.users[user].Subscribe
	return list == nil || coveredBy(list, filter)
}

// mostTold bounds what is remembered of refusals; more are not logged.
const mostTold = 256

// news reports whether something was not told yet, and remembers it.
func (r *rights) news(key string) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.told[key] || len(r.told) >= mostTold {
		return false
	}
	r.told[key] = true
	return true
}

// refused logs, once for each topic, what a user was kept from.
func (r *rights) refused(user, topic string) {
	if r.news(user + "\x00" + topic) {
		r.log.Warn("the broker dropped a message: this user may not publish there; see may_publish", "user", user, "topic", topic)
	}
}

// full logs, once, that there is no room to keep more.
func (r *rights) full() {
	r.once.Do(func() {
		r.log.Warn("the broker keeps no more retained messages: they are passed on and then forgotten")
	})
}

// crowded logs, once for each client, that it asked for more subscriptions than it may have.
func (r *rights) crowded(client string) {
	if r.news("filters\x00" + client) {
		r.log.Warn("the broker refused a subscription: this client has as many as one may have", "client", client)
	}
}

func coveredBy(list []string, filter string) bool {
	for _, rule := range list {
		if covers(rule, filter) {
			return true
		}
	}
	return false
}

// covers reports whether every topic that filter stands for is one that rule stands
// for; filter may be a topic (MQTT 3.1.1, 4.7.1: + is one level, # is the level above
// it and all below).
func covers(rule, filter string) bool {
	if rule == "+/#" {
		rule = "#" // the same in other words
	}
	for {
		r, restR, moreR := strings.Cut(rule, "/")
		f, restF, moreF := strings.Cut(filter, "/")
		switch {
		case r == "#":
			return true
		case f == "#", r != "+" && r != f:
			return false
		case !moreF:
			return !moreR || restR == "#"
		case !moreR:
			return false
		}
		rule, filter = restR, restF
	}
}
