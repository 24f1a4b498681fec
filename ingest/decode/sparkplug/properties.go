package sparkplug

import (
	"google.golang.org/protobuf/encoding/protowire"
)

// The quality of a value (6.4.7.1): without the property it is good.
const (
	qualityGood  = 192
	qualityStale = 500
)

// unitKey is the property that carries the unit: common practice among publishers,
// not in the specification.
const unitKey = "engUnit"

// maxProperties bounds the properties of one metric; own bound.
const maxProperties = 100

// properties are what is read of a PropertySet.
type properties struct {
	unit       string
	quality    uint64
	hasQuality bool
}

// parseProperties decodes a PropertySet: two lists, of keys and of values.
func parseProperties(b []byte) (p properties, err error) {
	var keys []string
	var values []property
	err = fields(b, func(num protowire.Number, f field) error {
		switch {
		case num == 1 && len(keys) < maxProperties:
			keys = append(keys, string(f.bytes))
		case num == 2 && len(values) < maxProperties:
			v, err := parseProperty(f.bytes)
			values = append(values, v)
			return err
		}
		return nil
	})
	for i := range min(len(keys), len(values)) {
		switch v := values[i]; {
		case v.null:
		case keys[i] == unitKey:
			p.unit = v.text
		case keys[i] == "Quality" && v.isNumber:
			p.quality, p.hasQuality = v.number, true
		}
	}
	return p, err
}

// A property is a decoded PropertyValue, as far as it is text or a whole number.
type property struct {
	null     bool
	isNumber bool
	number   uint64
	text     string
}

func parseProperty(b []byte) (v property, err error) {
	err = fields(b, func(num protowire.Number, f field) error {
		switch num {
		case 2:
			v.null = f.flag()
		case 3, 4:
			v.number, v.isNumber = f.number, true
		case 8:
			v.text = string(f.bytes)
		}
		return nil
	})
	return v, err
}
