package linktest

import (
	"fmt"
	"math/rand/v2"
	"net/netip"
	"os"
	"sync"
	"testing"
	"time"
)

// Chances are what becomes of a packet, the same both ways. The zero value passes everything at
// once, in order.
type Chances struct {
	Lose   float64       // of all packets, 0 to 1
	Double float64       // of those not lost: a second one follows by its own delay
	Late   float64       // of those not lost, and of the second ones: they take up to LateBy longer, and others overtake them
	Delay  time.Duration // what every packet takes
	LateBy time.Duration
}

// Counts are what a link has done, both ways.
type Counts struct {
	Came      int // packets
	Lost      int // by chance
	Cut       int // lost because the link was cut
	Doubled   int
	Late      int
	Reordered int // went out after one that had come in later
	Went      int // Came - Lost - Cut + Doubled, once nothing is under way
}

func (c Counts) String() string {
	return fmt.Sprintf("%d packets: %d lost, %d doubled, %d late, %d out of order, %d lost while the link was cut", c.Came, c.Lost, c.Doubled, c.Late, c.Reordered, c.Cut)
}

// Faults are all that it did to packets.
func (c Counts) Faults() int { return c.Lost + c.Doubled + c.Reordered + c.Cut }

// A Link joins the network of the test with another one, the far one.
type Link struct {
	Near, Far string // addresses (IPv4) of the two ends

	t     testing.TB
	space *os.File // the far network
	ends  [2]*os.File

	mu      sync.Mutex
	chances Chances
	cut     bool
	counts  Counts
	newest  [2]int // number of the newest packet that went out, by direction
}

// New makes a link that lives until the test ends. The seed decides what happens to the first,
// second, third packet of each direction; which packet that is, the machine decides.
func New(t testing.TB, seed uint64, chances Chances) *Link {
	t.Helper()
	l := &Link{t: t, chances: chances}
	if err := l.open(); err != nil {
		l.close()
		t.Fatalf("a link of two TUN devices: %v (needs /dev/net/tun, root and iproute2; load the kernel's module by: modprobe tun; a container wants --device /dev/net/tun --cap-add NET_ADMIN --cap-add SYS_ADMIN)", err)
	}
	t.Cleanup(l.close)
	for way := range l.ends {
		go l.carry(way, rand.New(rand.NewPCG(seed, uint64(way))))
	}
	return l
}

// Cut loses everything from now on, and tells neither end.
func (l *Link) Cut() { l.set(func() { l.cut = true }) }

// Mend ends Cut.
func (l *Link) Mend() { l.set(func() { l.cut = false }) }

// Become changes the chances.
func (l *Link) Become(c Chances) { l.set(func() { l.chances = c }) }

func (l *Link) set(do func()) {
	l.mu.Lock()
	defer l.mu.Unlock()
	do()
}

// Counts returns what was done so far.
func (l *Link) Counts() Counts {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.counts
}

// carry takes packets in at one end and sends them out at the other, until the ends are closed.
func (l *Link) carry(way int, chance *rand.Rand) {
	from, to := l.ends[way], l.ends[1-way]
	there := netip.MustParseAddr([]string{l.Far, l.Near}[way])
	buffer := make([]byte, 1<<16)
	for number := 1; ; number++ {
		n, err := from.Read(buffer)
		if err != nil {
			return
		}
		if !between(buffer[:n], there) {
			number--
			continue
		}
		packet := append([]byte(nil), buffer[:n]...)
		for _, wait := range l.fate(chance) {
			if wait == 0 {
				l.deliver(way, number, to, packet)
			} else {
				time.AfterFunc(wait, func() { l.deliver(way, number, to, packet) })
			}
		}
	}
}

// between is whether a packet is of IPv4 and for the other end. Others are nobody's here: the system
// looks for neighbours on each new device, and services announce themselves.
func between(packet []byte, there netip.Addr) bool {
	return len(packet) >= 20 && packet[0]>>4 == 4 && netip.AddrFrom4([4]byte(packet[16:20])) == there
}

// fate returns after how long a packet goes out: once, twice or never.
func (l *Link) fate(chance *rand.Rand) []time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	lost, doubled := chance.Float64() < l.chances.Lose, chance.Float64() < l.chances.Double
	waits := []time.Duration{l.wait(chance), l.wait(chance)} // drawn whatever happens, so that the seed holds
	l.counts.Came++
	switch {
	case l.cut:
		l.counts.Cut++
		return nil
	case lost:
		l.counts.Lost++
		return nil
	case doubled:
		l.counts.Doubled++
	default:
		waits = waits[:1]
	}
	for _, w := range waits {
		if w > l.chances.Delay {
			l.counts.Late++
		}
	}
	return waits
}

func (l *Link) wait(chance *rand.Rand) time.Duration {
	late, by := chance.Float64() < l.chances.Late, chance.Float64()
	if !late {
		return l.chances.Delay
	}
	return l.chances.Delay + time.Duration(by*float64(l.chances.LateBy))
}

// deliver counts and writes under one lock, so that the order that is counted is the one that was.
func (l *Link) deliver(way, number int, to *os.File, packet []byte) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if number < l.newest[way] {
		l.counts.Reordered++
	}
	l.newest[way] = max(l.newest[way], number)
	if _, err := to.Write(packet); err == nil { // an end that is closed: the test is over
		l.counts.Went++
	}
}
