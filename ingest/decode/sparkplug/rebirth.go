package sparkplug

import (
	"strings"
	"time"

	"google.golang.org/protobuf/encoding/protowire"
)

// RebirthTopic is where a node is asked for its births (6.4.23). The message goes out
// with quality of service 0 and is not retained.
func RebirthTopic(node Source) string {
	return strings.Join([]string{namespace, node.Group, nCmd, node.Node}, "/")
}

// Rebirth is the command that asks for them: Node Control/Rebirth, true, without a
// sequence number.
func Rebirth(now time.Time) []byte {
	at := uint64(max(0, now.UnixMilli()))
	var m []byte
	m = protowire.AppendTag(m, 1, protowire.BytesType)
	m = protowire.AppendString(m, "Node Control/Rebirth")
	m = appendNumber(m, 3, at)
	m = appendNumber(m, 4, typeBoolean)
	m = appendNumber(m, 14, 1)
	out := appendNumber(nil, 1, at)
	out = protowire.AppendTag(out, 2, protowire.BytesType)
	return protowire.AppendBytes(out, m)
}

func appendNumber(b []byte, num protowire.Number, v uint64) []byte {
	return protowire.AppendVarint(protowire.AppendTag(b, num, protowire.VarintType), v)
}
