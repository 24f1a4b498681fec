// Package decode turns an MQTT payload into a number and, if the payload carries
// one, the time at which the device says it was measured; or it says in plain
// words why it cannot.
//
// It is pure, and everything in it is bounded: payloads over MaxPayload bytes are
// refused before they are looked at, and JSON nested deeper than MaxDepth is
// refused before it is parsed. Nothing is guessed: a number with a decimal comma,
// a unit behind it or a word instead of it is refused with the text kept, because
// a wrong guess would look like a temperature.
package decode
