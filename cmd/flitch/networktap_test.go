package main

import (
	"encoding/binary"
	"io"
	"net"
	"regexp"
	"sync"
	"testing"
)

// A tap lies on the line between the daemon and an outside broker, and hears which readings the
// broker handed over and which of them the daemon acknowledged. It changes nothing, but while it
// is held nothing of the broker comes through.
type tap struct {
	Addr   string // where the daemon finds it
	broker string

	mu        sync.Mutex
	goes      *sync.Cond
	held      bool
	delivered map[string]int // by the name of the reading: how often the broker handed it over
	acked     map[string]bool
	waiting   map[net.Conn]map[uint16]string // by connection and packet id: what is not acknowledged on it yet
}

func newTap(t *testing.T, broker string) *tap {
	t.Helper()
	door, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &tap{Addr: door.Addr().String(), broker: broker, delivered: map[string]int{}, acked: map[string]bool{}, waiting: map[net.Conn]map[uint16]string{}}
	p.goes = sync.NewCond(&p.mu)
	t.Cleanup(func() { door.Close(); p.hold(false) })
	go func() {
		for {
			near, err := door.Accept()
			if err != nil {
				return
			}
			go p.join(near)
		}
	}()
	return p
}

func (p *tap) hold(held bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.held = held
	p.goes.Broadcast()
}

// join is one connection, until either side ends it.
func (p *tap) join(near net.Conn) {
	defer near.Close()
	far, err := net.Dial("tcp", p.broker)
	if err != nil {
		return
	}
	defer far.Close()
	names := map[uint16]string{}
	p.mu.Lock()
	p.waiting[near] = names
	p.mu.Unlock()
	defer func() {
		p.mu.Lock()
		defer p.mu.Unlock()
		delete(p.waiting, near)
	}()
	go func() {
		defer near.Close()
		defer far.Close()
		p.pass(far, near, func(packet []byte) { p.fromBroker(packet, names) })
	}()
	p.pass(near, far, func(packet []byte) { p.fromDaemon(packet, names) })
}

// pass hands on packet by packet. What is told is told before it is handed on.
func (p *tap) pass(from io.Reader, to io.Writer, heard func(packet []byte)) {
	for {
		packet, err := readPacket(from)
		if err != nil {
			return
		}
		heard(packet)
		if _, err := to.Write(packet); err != nil {
			return
		}
	}
}

// readPacket reads a packet of MQTT 3.1.1 (2.2): a byte, a length of up to four, and the rest.
func readPacket(from io.Reader) ([]byte, error) {
	head := make([]byte, 1, 5)
	if _, err := io.ReadFull(from, head); err != nil {
		return nil, err
	}
	length := 0
	for shift := 0; shift < 28; shift += 7 {
		var b [1]byte
		if _, err := io.ReadFull(from, b[:]); err != nil {
			return nil, err
		}
		head = append(head, b[0])
		if length |= int(b[0]&0x7f) << shift; b[0] < 0x80 {
			break
		}
	}
	packet := append(head, make([]byte, length)...)
	_, err := io.ReadFull(from, packet[len(head):])
	return packet, err
}

// readingName is where a courier's payload has the name of its reading.
var readingName = regexp.MustCompile(`"n":"(p[0-9]+-[0-9]+)"`)

func (p *tap) fromBroker(packet []byte, names map[uint16]string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for p.held {
		p.goes.Wait()
	}
	found := readingName.FindSubmatch(packet)
	if packet[0]&0xf0 != 0x30 || packet[0]&0x06 != 0x02 || found == nil { // PUBLISH with QoS 1
		return
	}
	at := 1
	for packet[at] >= 0x80 {
		at++
	}
	at += 1 + 2 + int(binary.BigEndian.Uint16(packet[at+1:])) // behind length and topic
	names[binary.BigEndian.Uint16(packet[at:])] = string(found[1])
	p.delivered[string(found[1])]++
}

func (p *tap) fromDaemon(packet []byte, names map[uint16]string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if packet[0] == 0x40 {
		id := binary.BigEndian.Uint16(packet[2:])
		if name := names[id]; name != "" {
			p.acked[name] = true
		}
		delete(names, id)
	}
}

// has is whether the daemon has acknowledged a reading.
func (p *tap) has(name string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.acked[name]
}

// again is how many readings were handed over more than once.
func (p *tap) again() (n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, times := range p.delivered {
		if times > 1 {
			n++
		}
	}
	return n
}

// open is how many readings were handed over on connections that stand, and are not acknowledged.
func (p *tap) open() (n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, names := range p.waiting {
		n += len(names)
	}
	return n
}
