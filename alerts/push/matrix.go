package push

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"flitch/alerts"
)

// matrixLength is the longest body, in characters: an event may have 65536 bytes
// (Matrix specification, Size limits). Far less is still readable.
const matrixLength = 8000

// matrix puts a message into a room (Client-Server API, PUT
// /rooms/{roomId}/send/{eventType}/{txnId}). The room must not be encrypted: we
// have no keys, and say everything in the clear.
func matrix(c *Channel, s Settings) error {
	if err := need("server", s.Server, "token", s.Token, "target", s.Target); err != nil {
		return err
	}
	server, err := webAddress(s.Server)
	if err != nil {
		return fmt.Errorf("server %w", err)
	}
	if !strings.HasPrefix(s.Target, "!") {
		return fmt.Errorf("target = %q is not the id of a room, such as !abcdef:larder.example", s.Target)
	}
	room := server.JoinPath("_matrix/client/v3/rooms", url.PathEscape(s.Target), "send/m.room.message")
	c.limit = matrixLength
	c.notifier = &poster{client: newClient(s), headers: bearer(s.Token), taken: field("event_id"),
		write: func(m alerts.Message, subject, body string) letter {
			return letter{method: http.MethodPut, url: room.JoinPath(transaction(m)).String(),
				content: map[string]any{"msgtype": "m.text", "body": subject + "\n" + body}}
		}}
	return nil
}

// transaction is the same for every repeat of one message, so that the server
// drops the repeats. Number alone would not do: a new database begins at 1 again,
// and its first ring must not be taken for an old one.
func transaction(m alerts.Message) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%d %d %s %s %s %d %s", m.ID, m.Alarm, m.Kind, m.Entry, m.Channel, m.Due.UnixMilli(), m.Body))
	return "flitch-" + hex.EncodeToString(sum[:12])
}

func bearer(token string) map[string]string {
	if token == "" {
		return nil
	}
	return map[string]string{"Authorization": "Bearer " + token}
}
