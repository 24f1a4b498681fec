// Package broker is the built-in MQTT broker, for those who have none. It is the
// only importer of the broker library.
//
// The library acknowledges a message before anybody has it and keeps sessions in
// memory, so it must not hold readings. Our publish hook takes messages on reading
// topics away from it, and the publisher gets its PUBACK from us, after the
// commit: an acknowledged reading is on disk, end to end. All other topics are the
// library's, as with any broker.
//
// Back-pressure is TCP's: when the intake is full the hook blocks, the connection
// is not read, and the publisher has to wait. When nothing could be stored for
// Config.StallLimit the client is disconnected, so that it connects again and
// sends again what was not acknowledged.
package broker
