package config

import (
	"crypto/x509"
	"encoding/pem"
)

// certificates reads every certificate of a PEM file, in its order.
func certificates(data []byte) (all []*x509.Certificate, err error) {
	for {
		var block *pem.Block
		if block, data = pem.Decode(data); block == nil {
			return all, nil
		}
		if block.Type != "CERTIFICATE" {
			continue
		}
		one, err := x509.ParseCertificate(block.Bytes)
		if err != nil {
			return nil, err
		}
		all = append(all, one)
	}
}
