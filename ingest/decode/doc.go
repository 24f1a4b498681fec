// Package decode turns an MQTT payload into numbers and, if the payload carries
// them, the times at which the device says they were measured; or it says in plain
// words why it cannot. A Spec says where they are and how they are written.
//
// It is pure, and everything in it is bounded: payloads over MaxPayload bytes are
// refused before they are looked at, and JSON nested deeper than MaxDepth is
// refused before it is parsed. Nothing is guessed: a number with a decimal comma,
// a unit behind it or a word instead of it is refused with the text kept unless the
// Spec declares it, because a wrong guess would look like a temperature.
package decode
