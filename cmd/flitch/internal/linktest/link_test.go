package linktest

import (
	"encoding/binary"
	"errors"
	"net"
	"os"
	"testing"
	"time"
)

// shower sends numbered datagrams from the far end, a few at a time, and returns the numbers in
// the order in which they came. Each handful is over before the next: nothing waits in a buffer
// that could overflow and lose what the link did not.
func shower(t *testing.T, l *Link, n int) (got []int) {
	t.Helper()
	in, err := net.ListenPacket("udp4", l.Near+":0")
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := l.Dial("udp4", in.LocalAddr().String(), net.Dialer{})
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	for i := 0; i < n; {
		for range min(20, n-i) {
			if _, err := out.Write(binary.BigEndian.AppendUint32(nil, uint32(i))); err != nil {
				t.Fatal(err)
			}
			i++
		}
		settle(t, l, i)
		for len(got) < l.Counts().Went {
			packet := make([]byte, 64)
			if err := in.SetReadDeadline(time.Now().Add(time.Minute)); err != nil {
				t.Fatal(err)
			}
			k, _, err := in.ReadFrom(packet)
			if err != nil || k != 4 {
				t.Fatalf("%d bytes, %v, after %d of %d", k, err, len(got), l.Counts().Went)
			}
			got = append(got, int(binary.BigEndian.Uint32(packet)))
		}
	}
	return got
}

// settle waits until n packets have come, and none is under way.
func settle(t *testing.T, l *Link, n int) {
	t.Helper()
	for deadline := time.Now().Add(time.Minute); ; {
		c := l.Counts()
		if c.Came == n && c.Went == c.Came-c.Lost-c.Cut+c.Doubled {
			return
		}
		if time.Now().After(deadline) {
			t.Fatalf("%d packets were sent; %v", n, c)
		}
		<-time.After(time.Millisecond) // the kernel's own time: nothing else to wait on
	}
}

// What the link says it did is what those at its ends see.
func TestTheLinkDoesWhatItSays(t *testing.T) {
	const n = 2000
	l := New(t, 5, Chances{Lose: 0.2, Double: 0.1, Late: 0.2, LateBy: 5 * time.Millisecond})
	got := shower(t, l, n)
	times, newest, disordered := map[int]int{}, -1, 0
	for _, i := range got {
		times[i]++
		if i < newest {
			disordered++
		}
		newest = max(newest, i)
	}
	twice := 0
	for _, k := range times {
		if k == 2 {
			twice++
		}
	}
	c := l.Counts()
	if n-len(times) != c.Lost || twice != c.Doubled || disordered != c.Reordered {
		t.Errorf("%d missing, %d twice, %d out of order; the link says %v", n-len(times), twice, disordered, c)
	}
	for what, share := range map[string][2]float64{"lost": {float64(c.Lost), 0.2}, "doubled": {float64(c.Doubled), 0.08}, "late": {float64(c.Late), 0.176}} {
		if got := share[0] / n; got < share[1]-0.04 || got > share[1]+0.04 {
			t.Errorf("%s: %.3f of all, want about %.3f", what, got, share[1])
		}
	}
	if c.Reordered == 0 {
		t.Error("nothing was out of order")
	}
	t.Logf("%d faults: %v", c.Faults(), c)
}

// The control: without chances everything comes, once and in order.
func TestALinkWithoutFaults(t *testing.T) {
	l := New(t, 5, Chances{})
	for i, got := range shower(t, l, 200) {
		if got != i {
			t.Fatalf("datagram %d is number %d", i, got)
		}
	}
	if c := l.Counts(); c.Faults() != 0 || c.Went != 200 {
		t.Errorf("%v", c)
	}
}

// While it is cut neither end is told anything; afterwards what was connected still is.
func TestACutLink(t *testing.T) {
	l := New(t, 5, Chances{})
	in, err := net.Listen("tcp4", l.Near+":0")
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := l.Dial("tcp4", in.Addr().String(), net.Dialer{Timeout: time.Minute})
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	server, err := in.Accept()
	if err != nil {
		t.Fatal(err)
	}
	defer server.Close()
	l.Cut()
	if _, err := out.Write([]byte("x")); err != nil {
		t.Fatal(err)
	}
	if err := server.SetReadDeadline(time.Now().Add(300 * time.Millisecond)); err != nil {
		t.Fatal(err)
	}
	if n, err := server.Read(make([]byte, 1)); n != 0 || !errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("%d bytes, %v, through a link that is cut", n, err)
	}
	l.Mend()
	if err := server.SetReadDeadline(time.Now().Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	if _, err := server.Read(make([]byte, 1)); err != nil {
		t.Error(err)
	}
	if c := l.Counts(); c.Cut == 0 || c.Lost != 0 {
		t.Errorf("%v", c)
	}
}

// From the far end nothing of this machine is reached but the near end.
func TestTheFarNetworkIsApart(t *testing.T) {
	l := New(t, 5, Chances{})
	in, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	if conn, err := l.Dial("tcp4", in.Addr().String(), net.Dialer{Timeout: time.Minute}); err == nil {
		conn.Close()
		t.Error("the far network is this one")
	}
}
