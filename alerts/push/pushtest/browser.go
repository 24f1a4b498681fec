package pushtest

import (
	"bytes"
	"crypto/aes"
	"crypto/cipher"
	"crypto/ecdh"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
)

// Raw is base64 as web push writes it: the URL's alphabet, no padding.
var Raw = base64.RawURLEncoding

// A Browser is the receiving end of one subscription.
type Browser struct {
	Key    *ecdh.PrivateKey
	Secret []byte // 16 bytes
}

// NewBrowser makes the keys of a new subscription.
func NewBrowser() *Browser {
	key, err := ecdh.P256().GenerateKey(rand.Reader)
	if err != nil {
		panic(err)
	}
	secret := make([]byte, 16)
	rand.Read(secret)
	return &Browser{Key: key, Secret: secret}
}

// P256dh is the public key as a page sends it.
func (b *Browser) P256dh() string { return Raw.EncodeToString(b.Key.PublicKey().Bytes()) }

// Auth is the shared secret as a page sends it.
func (b *Browser) Auth() string { return Raw.EncodeToString(b.Secret) }

// Decrypt opens the body of a push message: a header of salt, record size and
// sender's key, then one record (RFC 8188, sections 2.1 and 2.2; RFC 8291,
// sections 3.3 and 3.4).
func (b *Browser) Decrypt(body []byte) ([]byte, error) {
	if len(body) > 4096 {
		return nil, fmt.Errorf("%d bytes: a push service need not take more than 4096 (RFC 8030, section 7.2)", len(body))
	}
	if len(body) < 21 {
		return nil, errors.New("no header")
	}
	salt, size, keyLength := body[:16], binary.BigEndian.Uint32(body[16:20]), int(body[20])
	if len(body) < 21+keyLength {
		return nil, errors.New("no sender's key")
	}
	sender, err := ecdh.P256().NewPublicKey(body[21 : 21+keyLength])
	if err != nil {
		return nil, fmt.Errorf("sender's key: %w", err)
	}
	record := body[21+keyLength:]
	if uint32(len(record)) > size {
		return nil, fmt.Errorf("%d bytes are more than one record of %d", len(record), size)
	}
	key, nonce, err := b.derive(sender, salt)
	if err != nil {
		return nil, err
	}
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, err
	}
	sealed, err := cipher.NewGCM(block)
	if err != nil {
		return nil, err
	}
	plain, err := sealed.Open(nil, nonce, record, nil)
	if err != nil {
		return nil, err
	}
	plain = bytes.TrimRight(plain, "\x00")
	if len(plain) == 0 || plain[len(plain)-1] != 2 {
		return nil, errors.New("the last record does not end with a 2")
	}
	return plain[:len(plain)-1], nil
}

// derive is the key schedule of RFC 8291, section 3.4.
func (b *Browser) derive(sender *ecdh.PublicKey, salt []byte) (key, nonce []byte, err error) {
	shared, err := b.Key.ECDH(sender)
	if err != nil {
		return nil, nil, err
	}
	info := slices.Concat([]byte("WebPush: info\x00"), b.Key.PublicKey().Bytes(), sender.Bytes())
	material, err := hkdf.Key(sha256.New, shared, b.Secret, string(info), 32)
	if err != nil {
		return nil, nil, err
	}
	if key, err = hkdf.Key(sha256.New, material, salt, "Content-Encoding: aes128gcm\x00", 16); err != nil {
		return nil, nil, err
	}
	nonce, err = hkdf.Key(sha256.New, material, salt, "Content-Encoding: nonce\x00", 12)
	return key, nonce, err
}
