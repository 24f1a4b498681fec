package ingest

import (
	"fmt"
	"math"

	"flitch/ingest/decode"
	"flitch/ingest/sensor"
)

// A bare sensor hangs on a board that publishes ohms, counts or millivolts.
type bare struct {
	convert sensor.Conversion
	cold    *decode.Field // where the same payload tells the cold junction, °C; nil: coldC
	coldC   float64
}

func newBare(m Mapping) (*bare, error) {
	if !m.Probe.Placement.IsTemperature() || m.Unit+m.UnitAt != "" {
		return nil, fmt.Errorf("a bare %s gives °C: the placement is a temperature's, and there is no unit", m.Sensor.Kind)
	}
	convert, err := m.Sensor.Conversion()
	if err != nil {
		return nil, err
	}
	b := &bare{convert: convert, coldC: m.Sensor.ColdC}
	if m.Sensor.ColdAt != "" {
		field, err := decode.NewField(decode.Spec{Value: m.Sensor.ColdAt})
		if err != nil {
			return nil, err
		}
		b.cold = &field
	}
	return b, nil
}

// tempC is the temperature of what was sent, or why it is none.
func (b *bare) tempC(sent float64, doc *decode.Document) (tC float64, why string) {
	cold := b.coldC
	if b.cold != nil {
		s, err := doc.Read(b.cold)
		if err != nil {
			return math.NaN(), "no cold junction: " + err.Error()
		}
		cold = s.Value
	}
	return b.convert(sent, cold)
}
