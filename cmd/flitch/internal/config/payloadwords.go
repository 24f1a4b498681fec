package config

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// InWords says what is taken from a message, for a person who compares it with one.
func (p Payload) InWords() string {
	parts := []string{p.where()}
	switch {
	case p.Protocol != "" && p.Unit == "":
		parts = append(parts, "unit as announced")
	case p.Protocol != "":
		parts = append(parts, "unit as announced, or "+p.Unit)
	case p.UnitAt == Behind:
		parts = append(parts, "unit behind it")
	case p.UnitAt != "":
		parts = append(parts, "unit at "+p.UnitAt)
	case p.Unit == "K":
		parts = append(parts, "K")
	case p.Unit != "":
		parts = append(parts, "°"+p.Unit)
	}
	if p.Scale != 1 || p.Offset != 0 {
		parts = append(parts, strings.TrimSuffix(fmt.Sprintf("times %g plus %g", p.Scale, p.Offset), " plus 0"))
	}
	if len(p.Words) > 0 {
		parts = append(parts, "words "+strings.Join(slices.Sorted(maps.Keys(p.Words)), " "))
	}
	if p.Decimal == "," {
		parts = append(parts, "decimal comma")
	}
	if p.Time != "" {
		parts = append(parts, fmt.Sprintf("time %s (%s)", p.Time, p.clock()))
	}
	if p.Backfill != "" {
		parts = append(parts, "stored if "+p.Backfill)
	}
	return strings.Join(parts, ", ")
}

// where says at which place of which messages the number is.
func (p Payload) where() string {
	switch p.Protocol {
	case Homie:
		return "by Homie"
	case Sparkplug:
		return "metric " + p.Metric + " by Sparkplug B"
	}
	text := cmp.Or(p.Value, "the payload")
	if p.List {
		text = cmp.Or(p.Value, "the whole") + " in each of " + cmp.Or(p.Each, "the payload")
	}
	if p.inPayload() != "" {
		text += " where " + p.IDAt + " is " + p.ID
	}
	return text
}

func (p Payload) clock() string {
	if p.Zone != nil {
		return "local, " + p.Zone.String()
	}
	return p.TimeFormat
}
