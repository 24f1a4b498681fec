package mqtttest

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net"
	"time"
)

// A Raw is a publisher that speaks MQTT 3.1.1 in bytes: nothing is sent again,
// nothing is hidden.
type Raw struct {
	Conn net.Conn
	in   *bufio.Reader
}

// Dial connects as id with a clean session and a keep-alive of a minute.
func Dial(addr, id string) (*Raw, error) {
	conn, err := net.DialTimeout("tcp", addr, patience)
	if err != nil {
		return nil, err
	}
	return Over(conn, id)
}

// Over is Dial on a connection that is there already; it closes it when it fails. Who does not
// want to wait for ever sets a deadline on it before.
func Over(conn net.Conn, id string) (*Raw, error) {
	r := &Raw{Conn: conn, in: bufio.NewReader(conn)}
	body := append(text("MQTT"), 4, 2, 0, 60) // level 4, clean session, keep-alive 60 s
	body = append(body, text(id)...)
	if _, err := conn.Write(packet(0x10, body)); err != nil {
		conn.Close()
		return nil, err
	}
	var ack [4]byte
	if _, err := io.ReadFull(r.in, ack[:]); err != nil {
		conn.Close()
		return nil, fmt.Errorf("read CONNACK: %w", err)
	}
	if ack[0] != 0x20 || ack[3] != 0 {
		conn.Close()
		return nil, fmt.Errorf("CONNACK % x", ack)
	}
	return r, nil
}

// Packet encodes a PUBLISH of QoS 0 or 1; id is not used for QoS 0.
func Packet(topic string, payload []byte, qos byte, id uint16) []byte {
	body := text(topic)
	if qos > 0 {
		body = binary.BigEndian.AppendUint16(body, id)
	}
	return packet(0x30|qos<<1, append(body, payload...))
}

// Send writes an encoded packet.
func (r *Raw) Send(p []byte) error {
	_, err := r.Conn.Write(p)
	return err
}

// Puback waits for the next PUBACK, at most d, and returns its packet id.
func (r *Raw) Puback(d time.Duration) (uint16, error) {
	if err := r.Conn.SetReadDeadline(time.Now().Add(d)); err != nil {
		return 0, err
	}
	return r.puback()
}

func (r *Raw) puback() (uint16, error) {
	var p [4]byte
	if _, err := io.ReadFull(r.in, p[:]); err != nil {
		return 0, err
	}
	if p[0] != 0x40 || p[1] != 2 {
		return 0, fmt.Errorf("want PUBACK, got % x", p)
	}
	return binary.BigEndian.Uint16(p[2:]), nil
}

// Flood sends packets, whose ids must count 1, 2, ... 65535, 1 ..., with at most
// window of them unacknowledged, and returns when all are acknowledged. The
// acknowledgements have to come in order. A window of 0 does not wait for any
// (QoS 0).
func (r *Raw) Flood(packets [][]byte, window int) error {
	if window == 0 {
		out := bufio.NewWriterSize(r.Conn, 64<<10)
		for _, p := range packets {
			if _, err := out.Write(p); err != nil {
				return err
			}
		}
		return out.Flush()
	}
	if err := r.Conn.SetReadDeadline(time.Time{}); err != nil {
		return err
	}
	acks := make(chan error, 1)
	room, failed := make(chan struct{}, window), make(chan struct{})
	go func() {
		err := r.collect(len(packets), room)
		if err != nil {
			close(failed)
		}
		acks <- err
	}()
	err := r.stream(packets, room, failed)
	if err != nil {
		r.Conn.Close() // ends collect
	}
	return errors.Join(err, <-acks)
}

// stream writes the packets, flushing before it has to wait for room.
func (r *Raw) stream(packets [][]byte, room chan<- struct{}, failed <-chan struct{}) error {
	out := bufio.NewWriterSize(r.Conn, 64<<10)
	for _, p := range packets {
		select {
		case room <- struct{}{}:
		default:
			if err := out.Flush(); err != nil {
				return err
			}
			select {
			case room <- struct{}{}:
			case <-failed:
				return nil // collect says why
			}
		}
		if _, err := out.Write(p); err != nil {
			return err
		}
	}
	return out.Flush()
}

// collect reads n acknowledgements.
func (r *Raw) collect(n int, room <-chan struct{}) error {
	for i := range n {
		id, err := r.puback()
		if err != nil {
			return fmt.Errorf("after %d of %d acknowledgements: %w", i, n, err)
		}
		if want := PacketID(i); id != want {
			return fmt.Errorf("acknowledgement %d is for packet %d, want %d", i, id, want)
		}
		<-room
	}
	return nil
}

// PacketID is the id of the i-th packet of a Flood, from 0.
func PacketID(i int) uint16 { return uint16(i%65535) + 1 }

// Close cuts the connection.
func (r *Raw) Close() { r.Conn.Close() }

// text encodes a string with its length in front.
func text(s string) []byte {
	return append(binary.BigEndian.AppendUint16(nil, uint16(len(s))), s...)
}

// packet puts the fixed header in front of body.
func packet(head byte, body []byte) []byte {
	out := append(make([]byte, 0, len(body)+5), head)
	n := len(body)
	for {
		b := byte(n & 0x7f)
		if n >>= 7; n > 0 {
			out = append(out, b|0x80)
			continue
		}
		return append(append(out, b), body...)
	}
}
