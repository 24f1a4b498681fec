package mqtt

import (
	"errors"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// An Overhearer listens to topics that no probe reads, so that a person can see what
// there is. It has a connection of its own, without a session and with quality of
// service 0: the broker keeps nothing for it, and what it misses is no reading.
type Overhearer struct{ client paho.Client }

// Overhear starts to connect and returns at once; it connects again by itself. hear is
// called from one goroutine of the client library and must be quick.
func Overhear(c Config, filters []string, hear func(topic string, payload []byte, retained bool)) (*Overhearer, error) {
	if len(filters) == 0 {
		return nil, errors.New("no topics to listen to")
	}
	o, err := c.options(func(*connection, bool) {})
	if err != nil {
		return nil, err
	}
	asked := make(map[string]byte, len(filters))
	for _, f := range filters {
		asked[f] = 0
	}
	o.SetCleanSession(true).SetStore(noStore{})
	o.SetDefaultPublishHandler(func(_ paho.Client, m paho.Message) { hear(m.Topic(), m.Payload(), m.Retained()) })
	// Not waited for: waiting would block the client, and a broker that refuses leaves
	// the list empty, which a person sees.
	o.SetOnConnectHandler(func(client paho.Client) { client.SubscribeMultiple(asked, nil) })
	v := &Overhearer{client: paho.NewClient(o)}
	v.client.Connect()
	return v, nil
}

// Close ends the connection.
func (v *Overhearer) Close() { v.client.Disconnect(uint(goodbye / time.Millisecond)) }
