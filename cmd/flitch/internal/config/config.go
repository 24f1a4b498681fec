// Package config reads the one configuration file of flitch.
//
// It is a leaf: it knows the words of the trade (packages process and alerts) and
// nothing of the rooms that use it. Load is strict and gathers every problem before it
// fails, each with its line and with what to type instead, because a file on a
// board in a cold room is edited once, not ten times.
package config

import (
	"time"

	"flitch/alerts"
	"flitch/ingest/sensor"
	"flitch/process"
)

// Config is a whole, checked configuration. Paths in it are resolved against the
// folder of the file, defaults are filled in, and names refer to things that
// exist.
type Config struct {
	Path     string // the file it was read from
	Site     Site
	Page     Page
	Broker   Broker
	Places   []Place
	Probes   []Probe
	Channels []Channel
	Persons  []Person // in the order they are called

	Heartbeat Heartbeat
	TestRing  TestRing
	TurnsAt   time.Duration // time of day at which slabs are turned, from midnight; zero: a day after the last turn
	Announce  Announce
	Backup    Backup
	Store     Store
	Fleet     Fleet

	// Doubts are wrong, and yet no reason not to start: a certificate that is over,
	// or a clock that is not set yet, must not keep the watch off at night. Nil:
	// there are none.
	Doubts *Problems
}

// Site says where and how this installation works.
type Site struct {
	Name     string
	Zone     *time.Location // for people; everything stored is UTC
	Units    string         // "C" or "F": how temperatures are shown
	Database string         // path of the database file
	Currency string         // stands with what a batch cost; empty: the numbers stand alone

	ReviewerDiffers bool // a record is reviewed by somebody who did not make it
}

// Page is the web page and the JSON interface.
type Page struct {
	Listen    string // host:port
	Link      string // base URL put into messages, without a slash at the end
	Anonymous bool   // the file says that anyone who reaches the port may use it
	SignIn    bool   // others than this machine reach it, and have to say who they are

	TLS         TLSMode
	Names       []string // host names and addresses the certificate is for; empty without TLS
	Certificate string   // path of the certificate, PEM; Given only
	Key         string   // path of its key, PEM; Given only
	Plain       string   // host:port that hands out the root certificate by plain http; empty: none, Own only
}

// TLSMode says by which certificate the page is served.
type TLSMode string

// The certificates of the page.
const (
	NoTLS TLSMode = "off"   // none: plain http
	Own   TLSMode = "own"   // one of this installation's own authority
	Given TLSMode = "given" // from files, which somebody else renews
)

// BrokerMode says whose MQTT broker is used.
type BrokerMode string

// The two modes of the broker.
const (
	Embedded BrokerMode = "embedded" // flitch answers the sensors itself
	External BrokerMode = "external" // flitch subscribes at another broker
)

// Broker is the MQTT side. Only the fields of its Mode are set.
type Broker struct {
	Mode BrokerMode

	// Embedded.
	Listen    string // host:port
	Anonymous bool   // sensors may connect without a name
	Users     []BrokerUser
	MaxRate   float64 // packets a second of one sensor, on the long run

	TLS         TLSMode
	Names       []string // host names and addresses the certificate is for; empty without TLS
	Certificate string   // path, PEM; Given only
	Key         string   // path, PEM; Given only

	// External.
	URL      string // mqtt://host:1883 or mqtts://host:8883
	ClientID string // fixed: the other broker keeps our place in the queue by it
	User     string
	Password Secret
	CAFile   string // PEM; empty is the system's list
	Overhear string // topic filter of what is listened to beside the probes' topics; empty: nothing

	ClientCertificate string // path, PEM: what we show the other broker; empty: nothing
	ClientKey         string // path, PEM
}

// BrokerUser is a name a sensor may connect with, and the MQTT topic filters it may use.
type BrokerUser struct {
	Name         string
	Password     Secret
	MayPublish   []string // nil: all that is in no other user's list
	MaySubscribe []string // nil: all
}

// Fuel is what heats a smoker.
type Fuel string

// The fuels.
const (
	Electric Fuel = "electric"
	Wood     Fuel = "wood"
	Charcoal Fuel = "charcoal"
)

// A Place is a piece of equipment or a room.
type Place struct {
	Name  string
	Title string // for people; the name when the file has none
	Kind  process.Where
	Fuel  Fuel // smokers only

	Alarms []alerts.Change // that it wants otherwise than the catalogue
}

// A Probe is one measuring point and how its readings arrive.
type Probe struct {
	Name        string
	Place       string
	Measures    process.Placement
	ReadOut     bool          // a stand-alone logger: it publishes nothing, and a person brings its file
	Payload                   // where in which messages the number is; empty if ReadOut
	Sensor      sensor.Spec   // of a board that sends ohms, counts or millivolts
	Interval    time.Duration // expected between two readings
	Uncertainty float64       // K, >= 0; zero unless a temperature
	CheckEvery  time.Duration // between two checks in ice; 0: never asked for
	Battery     Vital         // what the sensor tells of itself beside the value
	Signal      Vital
	Missing     []float64 // numbers that mean "no value", as they are sent
}

// A Payload is where in which messages the number of a probe is, and how it is
// written. A path is a JSON pointer (RFC 6901), in which a step [name=value] picks an
// element of a list.
type Payload struct {
	Topic      string             // MQTT topic; a + stands for any one part
	ID         string             // only messages of this sensor are meant; empty: all
	IDAt       string             // path of the id, or InTopic: what stands for the +
	List       bool               // a message has several readings, stored by the sensor and sent later
	Each       string             // path of the list of them; empty is the whole payload
	Value      string             // path of the number, in a list seen from one reading; empty is the whole
	Time       string             // path of the time, as Value; empty is none
	TimeFormat string             // "rfc3339", "unix", "unix-ms" or "local"; empty without Time
	Zone       *time.Location     // of a local time; else nil
	Backfill   string             // path of a flag that is true when the reading was stored and is sent later
	Unit       string             // "C", "F" or "K"; empty unless a temperature, and with UnitAt
	UnitAt     string             // path of the unit, or Behind: behind the number
	Scale      float64            // the number is multiplied by it; not 0
	Offset     float64            // and this is added, in the unit sent
	Decimal    string             // "." or ",": the decimal sign of numbers that are text
	Words      map[string]float64 // that stand for numbers, of a door or of power

	// With a protocol the rest is said by it: Homie or Sparkplug, or empty. Topic is then
	// in its words, and Unit is what to assume where the device announces none.
	Protocol string
	Metric   string // Sparkplug only
}

// Words that stand where else a path does.
const (
	InTopic = "topic"  // as Payload.IDAt
	Behind  = "behind" // as Payload.UnitAt
)

// A Vital is where a sensor tells of its battery or its signal, and when that is low.
type Vital struct {
	Pointer string  // JSON pointer, or with a protocol the name; empty: it does not tell
	Loose   bool    // Pointer is only the last part of a name, in capitals or not
	Unit    string  // "%", "V" or "dBm"
	Low     float64 // at or below it is low, in Unit
}

// Placed returns the probe in the words of package process.
func (p Probe) Placed() process.PlacedProbe {
	return process.PlacedProbe{
		Probe: p.Name, Place: p.Place, Placement: p.Measures,
		Interval: p.Interval, Uncertainty: p.Uncertainty, CheckEvery: p.CheckEvery, ReadOut: p.ReadOut,
	}
}

// A Channel is one way to one person's phone or mailbox. What each kind needs
// differs, so its own keys stay as text and as secrets, by the name they have in
// the file without _file or _env:
//
//	kind        Text                                  Secrets
//	email       host port security user from to       password
//	http        url (unless it is a secret)           url bearer
//	pushover                                          token user
//	telegram    chat                                  token
//	pushbullet  device                                token
//	bark        server (empty: the public one)        key
//	ntfy        server (empty: the public one)        topic token
//	twilio      account from to                       token
//	plivo       account from to                       token
//	textmagic   user from to (from empty: the account's) token
//	push        contact server (empty: any on the internet)
//	matrix      server room                           token
//	slack, mattermost, rocketchat, discord, teams, googlechat: url, a secret
type Channel struct {
	Name     string
	Kind     string        // "email", "http", "pushover" and others: readKind has them all
	Level    string        // "tell": everything sent to people; "ring": only what wakes them
	Backup   bool          // used only when another channel has failed
	Deadline time.Duration // one attempt to send is given up after this
	Text     map[string]string
	Secrets  map[string]Secret
}

// ChannelNamed returns the channel of that name.
func (c *Config) ChannelNamed(name string) (Channel, bool) {
	for _, channel := range c.Channels {
		if channel.Name == name {
			return channel, true
		}
	}
	return Channel{}, false
}
