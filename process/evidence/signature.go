package evidence

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"strings"
)

// A Signature is that of one line of the journal: of its hash, and so of all lines before.
type Signature struct {
	Line int64             `json:"line"` // number of the line
	Hash string            `json:"hash"` // of the line, hex
	At   int64             `json:"at"`   // when it was signed, ms
	Key  ed25519.PublicKey `json:"key"`
	Sig  []byte            `json:"signature"`
}

// Message is what is signed with Ed25519 (RFC 8032): the fields "flitch journal head",
// line, hash and at, each a netstring as in Row.Append.
func (s *Signature) Message() []byte {
	b := appendNumber(appendText(nil, "flitch journal head"), s.Line)
	return appendNumber(appendText(b, s.Hash), s.At)
}

// Sign makes the signature of a line.
func Sign(key ed25519.PrivateKey, line int64, hash string, at int64) Signature {
	s := Signature{Line: line, Hash: hash, At: at, Key: key.Public().(ed25519.PublicKey)}
	s.Sig = ed25519.Sign(key, s.Message())
	return s
}

// Valid reports whether the signature is one of its key over the line.
func (s *Signature) Valid() bool {
	return len(s.Key) == ed25519.PublicKeySize && ed25519.Verify(s.Key, s.Message(), s.Sig)
}

// fingerprintPrefix begins each fingerprint, so that nobody takes it for another hash.
const fingerprintPrefix = "SHA256:"

// Fingerprint is the name of a public key: SHA256: and the SHA-256 of its 32 bytes in hex.
func Fingerprint(key ed25519.PublicKey) string {
	sum := sha256.Sum256(key)
	return fingerprintPrefix + hex.EncodeToString(sum[:])
}

// ParseFingerprint reads a fingerprint as people type it: with or without SHA256:, in any
// case, with spaces or colons.
func ParseFingerprint(text string) (string, bool) {
	text = strings.ToLower(strings.TrimSpace(text))
	text = strings.TrimPrefix(text, strings.ToLower(fingerprintPrefix))
	text = strings.NewReplacer(" ", "", ":", "").Replace(text)
	_, err := hex.DecodeString(text)
	return fingerprintPrefix + text, err == nil && len(text) == 64
}
