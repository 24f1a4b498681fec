package app

import (
	"fmt"
	"strconv"
	"strings"

	"flitch/alerts"
	"flitch/alerts/push"
	"flitch/cmd/flitch/internal/config"
	"flitch/process/engine"
	"flitch/store"
)

// kindPush is the kind of a channel that stands for every phone that was added to
// it. Each phone has a lane of its own in the outbox, so that one that fails stops
// no other, and the record says of each phone what became of a message.
const kindPush = "push"

// laneOf names the lane of one phone. Names of channels hold no slash.
func laneOf(channel string, phone int64) string {
	return channel + "/" + strconv.FormatInt(phone, 10)
}

// channelOf is the channel of the configuration that a lane belongs to; a channel
// that is no lane is its own.
func channelOf(lane string) (channel string, phone int64) {
	channel, number, _ := strings.Cut(lane, "/")
	phone, _ = strconv.ParseInt(number, 10, 64) // zero: no phone
	return channel, phone
}

// pushChannel returns the channel of that name if phones can be added to it.
func pushChannel(c *config.Config, name string) (config.Channel, bool) {
	channel, ok := c.ChannelNamed(name)
	return channel, ok && channel.Kind == kindPush
}

// senderKey is the key that push services know this installation by, made on the
// first run; nil when no channel needs one.
func senderKey(c *config.Config) ([]byte, error) {
	for _, channel := range c.Channels {
		if channel.Kind != kindPush {
			continue
		}
		key, err := keyOf(c.Site.Database+".push.key", "every phone has to be added again", push.NewSenderKey)
		if err != nil {
			return nil, fmt.Errorf("key of web push: %w", err)
		}
		return key, nil
	}
	return nil, nil
}

// phoneChannel is the way to one phone.
func phoneChannel(c config.Channel, key []byte, p store.Phone) (*push.Channel, error) {
	return push.New(push.Settings{Name: laneOf(c.Name, p.ID), Kind: c.Kind, Deadline: c.Deadline, Contact: c.Text["contact"], Server: c.Text["server"],
		SenderKey: key, Browser: &push.Browser{Endpoint: p.Endpoint, Public: p.Public, Secret: p.Secret}})
}

// Channels builds every way that a channel of the configuration stands for: one,
// or one for each phone that was added to it, beside a running daemon too.
func Channels(cfg *config.Config, c config.Channel) ([]*push.Channel, error) {
	if c.Kind != kindPush {
		one, err := Channel(c)
		return []*push.Channel{one}, err
	}
	key, err := senderKey(cfg)
	if err != nil {
		return nil, err
	}
	db, err := store.OpenReadOnly(cfg.Site.Database)
	if err != nil {
		return nil, err
	}
	defer db.Close()
	phones, err := db.Phones()
	if err != nil {
		return nil, err
	}
	var ways []*push.Channel
	for _, p := range phones {
		if p.Channel != c.Name || !p.Ended.IsZero() {
			continue
		}
		way, err := phoneChannel(c, key, p)
		if err != nil {
			return nil, err
		}
		ways = append(ways, way)
	}
	if len(ways) == 0 {
		nobody, err := Channel(c)
		return []*push.Channel{nobody}, err
	}
	return ways, nil
}

// enqueue stores m to be sent: once for each phone, where its channel stands for
// phones. Without a phone it stays with the channel, which says that nobody is
// there.
func (a *App) enqueue(tx *store.Tx, m alerts.Message) error {
	var phones []int64
	if _, ok := pushChannel(a.cfg, m.Channel); ok {
		var err error
		if phones, err = tx.PhonesOf(m.Channel); err != nil {
			return err
		}
	}
	if len(phones) == 0 {
		_, err := tx.Enqueue(m)
		return err
	}
	channel := m.Channel
	for _, phone := range phones {
		m.Channel = laneOf(channel, phone)
		if _, err := tx.Enqueue(m); err != nil {
			return err
		}
	}
	return nil
}

// openPhones opens a lane for each phone. One that has ended keeps its lane, for
// what waited when flitch stopped, and its fault, until a person has seen to it.
func (a *App) openPhones() error {
	phones, err := a.db.Phones()
	if err != nil {
		return err
	}
	for _, p := range phones {
		c, ok := pushChannel(a.cfg, p.Channel)
		if !ok {
			a.log.Warn("a phone rings for a channel that is not in the configuration", "phone", p.ID, "channel", p.Channel)
			continue
		}
		if err := a.openPhone(c, p); err != nil {
			return err
		}
		if !p.Ended.IsZero() {
			a.faults.Set(engine.FaultPhone+laneOf(p.Channel, p.ID), phoneText(p)+" "+p.Why)
		}
	}
	return nil
}

func (a *App) openPhone(c config.Channel, p store.Phone) error {
	way, err := phoneChannel(c, a.senderKey, p)
	if err != nil {
		return err
	}
	return a.outbox.Open(answerable{mortal{way, a.phoneGone}, a.links, a.unreached})
}

// lanes are the open lanes of a channel: its phones', or its own.
func (a *App) lanes(channel string) (names []string) {
	for _, name := range a.outbox.Names() {
		if strings.HasPrefix(name, channel+"/") {
			names = append(names, name)
		}
	}
	if len(names) == 0 {
		names = append(names, channel)
	}
	return names
}

// phoneText names a phone for people.
func phoneText(p store.Phone) string {
	return fmt.Sprintf("phone %d (%s, %s)", p.ID, p.Name, p.Person)
}
